"""Judge what was heard in recordings of bearings and gears, once the worker has analysed them."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q, QuerySet

from findings.conditions import actions as conditions
from findings.conditions import queries as bearings
from findings.conditions.rules.bearings import geometry_of
from findings.kinds.base import Kind
from findings.kinds.wear_sound import Machine, wear_by_sound
from findings.plant.rules import Method
from findings.readings.models import Reading
from findings.readings.rules import Attachment
from findings.recordings import actions as recordings
from findings.recordings import queries
from findings.recordings.models import RecordingAnalysis
from findings.recordings.rules import RecordingState
from findings.register.actions.conditions import consider
from plantcare.api.actor import Actor
from plantcare.jobs import items

MOST_IN_A_RUN = 200
_BY_PROBE = Q(recording__reading__kind=Kind.MECHANICAL_WEAR) | (
    Q(recording__reading__kind="")
    & (
        Q(recording__reading__attachment=Attachment.CONTACT_PROBE)
        | Q(recording__reading__point__method=Method.CONTACT)
    )
)


def judge_wear_recordings(
    *, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None = None
) -> dict[str, int]:
    """Judge the analyses of recordings at bearings and gears that nobody has judged; return how many.

    Asked for after each analysis; the scheduled run finds what was lost. Each is judged once, by whichever
    run has it in hand, in a transaction of its own.
    """
    rows = _unjudged() if site_ids is None else _unjudged().filter(site_id__in=site_ids)
    judged = 0
    rows = rows.exclude(pk__in=items.parked())
    for pk in list(rows.values_list("pk", flat=True)[:MOST_IN_A_RUN]):
        with items.spared(pk):
            judged += _judge(actor, at, pk)
    return {"judged": judged}


def _judge(actor: Actor, at: datetime, analysis_id: uuid.UUID) -> bool:
    with transaction.atomic():
        rows = _unjudged().filter(pk=analysis_id)
        analysis = rows.select_for_update(skip_locked=True, of=("self",)).first()
        if analysis is None or not recordings.mark_judged(at=at, analysis_id=analysis.pk):
            return False
        if analysis.state == RecordingState.DONE:
            reading = analysis.recording.reading
            found = wear_by_sound(_of_recording(analysis), _machine_at(reading))
            condition = conditions.keep(found, reading=reading, at=reading.taken_at, recorded_at=at)
            consider(actor=actor, at=at, condition=condition)
    return True


def _unjudged() -> QuerySet[RecordingAnalysis]:
    return queries.unjudged().filter(_BY_PROBE)


def _of_recording(analysis: RecordingAnalysis) -> dict[str, Any]:
    """Return the analysis with the file that it is of, so that the judgement names what it rests on."""
    of = {"recording_id": str(analysis.recording_id), "sha256": analysis.recording.sha256}
    return {**analysis.result, **of}


def _machine_at(reading: Reading) -> Machine:
    """Return what was known of the machine when a reading was taken."""
    known = bearings.particulars_at(reading.point_id, reading.taken_at)
    speed_hz = reading.shaft_speed_hz
    if known is None:
        return Machine(shaft_speed_hz=speed_hz)
    if speed_hz is None and known.speed_varies is False:
        speed_hz = known.shaft_speed_hz
    return Machine(shaft_speed_hz=speed_hz, geometry=geometry_of(known), gear_teeth=known.gear_teeth)
