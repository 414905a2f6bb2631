"""Judge what was heard in recordings at electrical equipment, one recording in one transaction."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from findings.kinds.discharge_condition import SoundHeard, condition_by_sound
from findings.panels import queries
from findings.panels.actions.keeping import keep_judged
from findings.physics.estimate import Reason
from findings.recordings.actions import mark_judged
from findings.recordings.models import RecordingAnalysis
from findings.recordings.rules import features_in
from findings.sound.told import GainLocked
from plantcare.api.actor import Actor


def judge_recording(actor: Actor, at: datetime, analysis_id: uuid.UUID) -> bool:
    """Judge one analysis; False where it is judged already or somebody is about it."""
    with transaction.atomic():
        rows = queries.unjudged_analyses().filter(pk=analysis_id)
        analysis = rows.select_for_update(skip_locked=True, of=("self",)).first()
        # Asked once more under the lock: another run may have judged it and ended meanwhile.
        if analysis is None or not rows.exists():
            return False
        reading = analysis.recording.reading
        found = condition_by_sound(_heard(analysis), queries.surroundings(reading))
        keep_judged(found, reading, actor=actor, at=at)
        mark_judged(at=at, analysis_id=analysis.pk)
    return True


def _heard(analysis: RecordingAnalysis) -> SoundHeard:
    """Return what an analysis kept; one that was refused heard nothing, and says why."""
    return SoundHeard(
        analysis_id=str(analysis.pk),
        recording_id=str(analysis.recording_id),
        method_version=analysis.method_version,
        features=features_in(analysis.result),
        seconds=analysis.recording.seconds,
        gain_locked=analysis.recording.gain_locked == GainLocked.YES,
        reasons=tuple(Reason(one["code"], one["text"]) for one in analysis.reasons),
    )
