"""Hear recordings in the worker: one at a time, a bounded number of tries, a result or its refusal.

Nothing here calls upward: what was heard is a row, and the rooms above read it.
"""

from __future__ import annotations

import hashlib
import io
import logging
import time
import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, BinaryIO, Final, NamedTuple

from celery.exceptions import SoftTimeLimitExceeded
from django.db import transaction
from django.utils import timezone

from findings.kinds.base import Kind
from findings.physics import lazily
from findings.physics.estimate import Reason
from findings.plant.rules import Method
from findings.recordings import files, queries
from findings.recordings.actions.storing import store
from findings.recordings.models import AnalysisAttempt, Recording, RecordingAnalysis
from findings.recordings.rules import (
    ANALYSIS_VERSION,
    GAVE_UP,
    MOST_ATTEMPTS,
    NOT_UNDERSTOOD,
    PICTURE_ENDING,
    TAMPERED,
    RecordingState,
)
from findings.sound.header import Unusable
from findings.sound.told import GainLocked, SoundBand, Told
from plantcare.api.actor import Actor
from plantcare.jobs.turns import turn

logger = logging.getLogger(__name__)

MOST_IN_A_RUN: Final = 50
LONGEST_RUN_S: Final = 300.0


class _Outcome(NamedTuple):
    """What came of a try."""

    state: RecordingState
    reasons: Sequence[Reason]
    result: Mapping[str, Any] = {}
    picture: str = ""
    words: str = ""


def analyse_recording(
    *,
    actor: Actor,  # noqa: ARG001 - the form of every job
    at: datetime,
    subject: uuid.UUID,
) -> bool:
    """Hear one recording if nobody has and nobody is about it; tell whether there is a new analysis.

    A file that can't be heard is refused with its reason, never raised. Raises StoreAway, after which the
    scheduled run tries again; a process that is stopped here has used up one of three tries.
    """
    with turn(f"recording {subject}") as held:
        recording = queries.waiting().filter(pk=subject).first() if held else None
        if recording is None:
            return False
        tried = queries.attempts_at(recording.pk)
        if tried >= MOST_ATTEMPTS:
            outcome = _Outcome(RecordingState.REFUSED, [GAVE_UP])
        else:
            outcome = _tried(recording, number=tried + 1, at=at)
        return _kept(recording, outcome, at)


def analyse_waiting(
    *,
    actor: Actor,
    at: datetime,
    site_ids: Sequence[uuid.UUID] | None,
) -> dict[str, int]:
    """Hear what is left over: lost messages, killed workers, a new version of the method.

    At most 50 recordings, and none is begun after 5 minutes. A file that can't be had waits on.
    """
    rows = queries.waiting() if site_ids is None else queries.waiting().filter(site_id__in=site_ids)
    until, heard, away = time.monotonic() + LONGEST_RUN_S, 0, 0
    for pk in list(rows.values_list("pk", flat=True)[:MOST_IN_A_RUN]):
        if time.monotonic() > until:
            break
        try:
            heard += analyse_recording(actor=actor, at=at, subject=pk)
        except files.StoreAway:
            away += 1  # of this file; the others may be there
    return {"heard": heard, "waiting": rows.count(), "away": away}


def _tried(recording: Recording, *, number: int, at: datetime) -> _Outcome:
    """Hear a recording; the try is written down once its file is at hand."""
    try:
        with files.local_copy(recording.sha256, recording.container) as file:
            AnalysisAttempt.objects.create(
                site_id=recording.site_id,
                recording=recording,
                method_version=ANALYSIS_VERSION,
                number=number,
                started_at=at,
            )
            return _heard(recording, file)
    except files.FileChanged:
        logger.exception("the stored file of recording %s has changed", recording.pk)
        return _Outcome(RecordingState.REFUSED, [TAMPERED])


def _heard(recording: Recording, file: BinaryIO) -> _Outcome:
    """Return what is heard in a file, or why not."""
    told = Told(
        channel=recording.channel,
        gain_locked=GainLocked(recording.gain_locked),
        sound_band=SoundBand(recording.sound_band),
    )
    point = recording.reading.point
    electrical = recording.reading.kind == Kind.ELECTRICAL_DISCHARGE or point.method == Method.ELECTRICAL
    title = f"Heard at {point.code}, {recording.reading.taken_at:%Y-%m-%d %H:%M} UTC"
    try:
        heard = lazily.load("findings.sound.hearing").hear(file, told, title=title, electrical=electrical)
    except Unusable as why:
        return _Outcome(RecordingState.REFUSED, [why.reason])
    except (SoftTimeLimitExceeded, MemoryError):
        raise  # the file may be fine and the machine busy: the try is used up, the next one tells
    except Exception:
        logger.exception("recording %s can't be heard", recording.pk)
        return _Outcome(RecordingState.REFUSED, [NOT_UNDERSTOOD])
    return _Outcome(RecordingState.DONE, heard.reasons, heard.result, heard.picture, heard.words)


def _kept(recording: Recording, outcome: _Outcome, at: datetime) -> bool:
    """Write down an outcome with its picture."""
    picture = outcome.picture.encode()
    sha256 = hashlib.sha256(picture).hexdigest() if picture else ""
    with transaction.atomic():
        if picture:
            store(io.BytesIO(picture), sha256, PICTURE_ENDING)
        RecordingAnalysis.objects.create(
            site_id=recording.site_id,
            recording=recording,
            method_version=ANALYSIS_VERSION,
            state=outcome.state,
            result=dict(outcome.result),
            reasons=[reason._asdict() for reason in outcome.reasons],
            picture_sha256=sha256,
            picture_words=outcome.words,
            started_at=at,
            ended_at=max(at, timezone.now()),
        )
    return True
