"""Say that a recording is wrong; its file and what was heard in it are kept."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from findings.logbook import actions as logbook
from findings.plant import actions as plant
from findings.recordings import queries
from findings.recordings.models import Recording
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict


class RecordingVoid(Conflict):
    """A recording is voided once."""

    code = "recording_void"
    title = "This recording is void already."


def void_recording(*, actor: Actor, at: datetime, recording_id: uuid.UUID, reason: str) -> Recording:
    """Void a recording: from now on nothing is heard in it. Raises NotFound, Invalid, RecordingVoid."""
    told = plant.check_reason(reason)
    with transaction.atomic():
        plant.void_row(Recording, recording_id, at=at, reason=told, already=RecordingVoid)
        recording = queries.recordings().get(pk=recording_id)
        logbook.write(
            site_id=recording.site_id,
            actor=actor,
            at=at,
            act="recording.voided",
            subject_kind="recording",
            subject_id=recording.pk,
            reason=told,
            detail={"reading_id": recording.reading_id, "sha256": recording.sha256},
        )
    return recording
