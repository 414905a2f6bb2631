"""Keep a recording that was sent: looked at before anything is stored, stored before it is named."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from types import MappingProxyType
from typing import BinaryIO, Final

from django.db import transaction
from django.db.models import F

from findings.logbook import actions as logbook
from findings.readings.models import Reading
from findings.recordings import files, queries
from findings.recordings.actions.storing import store
from findings.recordings.models import Recording
from findings.recordings.rules import MOST_PER_READING, shown_name
from findings.sound.container import read_header
from findings.sound.header import Header, Unusable
from findings.sound.told import Told
from plantcare.api.actor import Actor
from plantcare.api.problems import (
    Conflict,
    FieldError,
    Invalid,
    MediaTypeRefused,
    NotFound,
    Refusal,
    TooLarge,
    Unprocessable,
)
from plantcare.jobs.asking import ask_for_one

ANALYSE: Final = "analyse_recordings"
"""The name of the job that hears recordings."""

_STATUS: Final[Mapping[str, type[Refusal]]] = MappingProxyType(
    {
        "too_large": TooLarge,
        "not_a_recording": MediaTypeRefused,
        "container": MediaTypeRefused,
        "lossy": MediaTypeRefused,
    }
)


class RecordingToldOtherwise(Conflict):
    """The same file stands at this reading with another channel, band or word about the gain."""

    code = "recording_told_otherwise"
    title = "This file is kept already and was told otherwise; void it first if that was wrong."


class TooManyRecordings(Conflict):
    """A reading is one moment at one point; its recordings are few."""

    code = "too_many_recordings"
    title = f"A reading has at most {MOST_PER_READING} recordings."


@dataclass(frozen=True, slots=True)
class Kept:
    """A recording, and whether it is new."""

    recording: Recording
    created: bool


def keep_recording(
    *, actor: Actor, at: datetime, reading_id: uuid.UUID, file: BinaryIO, file_name: str, told: Told
) -> Kept:
    """Keep a file at a reading, or return the one kept before; have it heard once it is kept.

    Raises NotFound; TooLarge, MediaTypeRefused, Unprocessable or Invalid for a file or channel that can't be
    used, before anything is stored; RecordingToldOtherwise, TooManyRecordings, StoreAway.
    """
    header = _usable(file, told)
    sha256, size = files.digest_of(file)
    with transaction.atomic():
        # The lock makes two senders of one file take turns.
        reading = Reading.objects.select_for_update(no_key=True).filter(pk=reading_id).first()
        if reading is None:
            raise NotFound
        known = _known(reading, sha256, told)
        if known is not None:
            return Kept(known, created=False)
        if Recording.objects.filter(reading=reading, void_at__isnull=True).count() >= MOST_PER_READING:
            raise TooManyRecordings
        store(file, sha256, header.form)
        recording = Recording.objects.create(
            site_id=reading.site_id,
            reading=reading,
            sha256=sha256,
            file_name=shown_name(file_name),
            bytes=size,
            container=header.form,
            sample_rate_hz=header.rate_hz,
            channels=header.channels,
            bits=header.significant_bits,
            seconds=header.seconds,
            uploaded_at=at,
            uploaded_by=actor.name[:200],
            **asdict(told),
        )
        logbook.write(
            site_id=reading.site_id,
            actor=actor,
            at=at,
            act="recording.added",
            subject_kind="recording",
            subject_id=recording.pk,
            detail={"reading_id": reading.pk, "sha256": sha256, "seconds": header.seconds, **asdict(told)},
        )
        ask_for_one(ANALYSE, recording.pk)
    return Kept(queries.recordings().get(pk=recording.pk), created=True)


def _usable(file: BinaryIO, told: Told) -> Header:
    """Return the checked header of a file of which nothing was decoded."""
    try:
        header = read_header(file)
    except Unusable as why:
        refusal = _STATUS.get(why.reason.code, Unprocessable)
        raise refusal(why.reason.text, code=f"recording_{why.reason.code}") from None
    if not 1 <= told.channel <= header.channels:
        text = f"The file has {header.channels} channels."
        raise Invalid(errors=[FieldError("/channel", "channel", text)])
    return header


def _known(reading: Reading, sha256: str, told: Told) -> Recording | None:
    """Return the recording that this one repeats, word for word; a void one stays void when it comes late."""
    same = queries.recordings().filter(reading=reading, sha256=sha256)
    repeated = same.filter(**asdict(told)).order_by(F("void_at").asc(nulls_first=True), "-id").first()
    if repeated is not None:
        return repeated
    standing = same.filter(void_at__isnull=True).first()
    if standing is not None:
        raise RecordingToldOtherwise(existing_id=str(standing.pk))
    return None
