"""Say that a recording is wrong; its file and what was heard in it are kept."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from findings.logbook import actions as logbook
from findings.recordings import queries
from findings.recordings.models import Recording
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound


class RecordingVoid(Conflict):
    """A recording is voided once."""

    code = "recording_void"
    title = "This recording is void already."


def void_recording(*, actor: Actor, at: datetime, recording_id: uuid.UUID, reason: str) -> Recording:
    """Void a recording: from now on nothing is heard in it. Raises NotFound, Invalid, RecordingVoid."""
    if not reason.strip():
        raise Invalid(errors=[FieldError("/reason", "blank", "A reason is needed.")])
    with transaction.atomic():
        rows = Recording.objects.filter(pk=recording_id)
        if not rows.exists():
            raise NotFound
        if not rows.filter(void_at__isnull=True).update(void_at=at, void_reason=reason.strip()):
            raise RecordingVoid
        recording = queries.recordings().get(pk=recording_id)
        logbook.write(
            site_id=recording.site_id,
            actor=actor,
            at=at,
            act="recording.voided",
            subject_kind="recording",
            subject_id=recording.pk,
            reason=recording.void_reason,
            detail={"reading_id": recording.reading_id, "sha256": recording.sha256},
        )
    return recording
