"""Keep what a greasing did: the readings a technician marked, the mass, and how the level answered."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from findings.conditions.actions.points import point_of, refuse_problems, tell
from findings.conditions.models import Greasing
from findings.conditions.queries.wear_book import WearBook
from findings.conditions.rules.bearings import charge_of
from findings.conditions.rules.greasings import (
    Marked,
    NewGreasing,
    baseline_levels,
    baseline_of,
    greasing_problems,
    outcome_of,
)
from findings.physics import greasing as physics
from findings.plant import actions as plant
from findings.plant.models import MeasuringPoint
from findings.readings.models import Reading
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, constraint_refusals


class GreasingKnown(Conflict):
    """A reading ends one greasing."""

    code = "greasing_known"
    title = "This reading ends a recorded greasing already; void that first."


class GreasingVoid(Conflict):
    """A row is voided once."""

    code = "greasing_void"
    title = "The greasing is void already."


_TOLD = ("grease_kg", "during_grease_kg", "rose_during", "note")

constraint_refusals["greasing_once_per_reading"] = GreasingKnown


def record_greasing(*, actor: Actor, at: datetime, point_id: uuid.UUID, given: NewGreasing) -> Greasing:
    """Record grease given at a point between readings that carry the technician's marks.

    The outcome is worked out against the baseline that the reading before compares with, and the bearing's
    charge where the particulars tell it. Raises NotFound, OtherSite, Invalid, GreasingKnown.
    """
    with transaction.atomic():
        point = point_of(point_id)
        readings = _readings(point, given)
        when = given.greased_at or readings["after"].taken_at
        refuse_problems(greasing_problems(dict(readings), when, given.grease_kg, given.during_grease_kg))
        if Greasing.objects.filter(after_id=given.after_id, void_at__isnull=True).exists():
            raise GreasingKnown(errors=[FieldError("/after_id", GreasingKnown.code, GreasingKnown.title)])
        row = Greasing.objects.create(
            site_id=point.site_id,
            point=point,
            **readings,
            **{name: getattr(given, name) for name in _TOLD},
            **_worked_out(point, readings, given),
            grease_name=given.grease_name.strip(),
            at=when,
            recorded_at=at,
            user_id=actor.user_id,
            actor_name=actor.name[:200],
        )
        detail = {
            "point_id": point.pk,
            "at": when,
            "grease_kg": given.grease_kg,
            "outcome": row.outcome,
        }
        tell(row, "greasing", "greasing.recorded", actor, at, detail)
    return row


def void_greasing(*, actor: Actor, at: datetime, greasing_id: uuid.UUID, reason: str) -> Greasing:
    """Void a greasing: trends no longer begin at it. Raises NotFound, Invalid, GreasingVoid."""
    told = plant.check_reason(reason)
    with transaction.atomic():
        row = plant.void_row(Greasing, greasing_id, at=at, reason=told, already=GreasingVoid)
        tell(row, "greasing", "greasing.voided", actor, at, {"point_id": row.point_id, "at": row.at}, told)
    return row


def _readings(point: MeasuringPoint, given: NewGreasing) -> dict[str, Reading]:
    """Return the readings by their marks, in order; another point's or a corrected one is refused."""
    ids = {"before": given.before_id, "during": given.during_id, "after": given.after_id}
    return {name: _reading(point, name, pk) for name, pk in ids.items() if pk is not None}


def _reading(point: MeasuringPoint, name: str, reading_id: uuid.UUID) -> Reading:
    reading = Reading.objects.filter(pk=reading_id, point=point).first()
    if reading is None:
        plant.unknown(f"/{name}_id")
    if Reading.objects.filter(corrects_id=reading.pk).exists():
        plant.refuse(f"/{name}_id", "reading_corrected", "The reading was corrected; name its correction.")
    return reading


def _worked_out(point: MeasuringPoint, readings: Mapping[str, Reading], given: NewGreasing) -> dict[str, Any]:
    """Return the columns that the outcome fills."""
    book = WearBook(point.site_id, [point.pk])
    before, during = readings["before"], readings.get("during")
    evidence = book.evidence(before)
    base = baseline_of(list(evidence.baseline), good_state_confirmed=evidence.good_since is not None)
    charge_kg = charge_of(book.particulars(point.pk, before.taken_at)).value
    marked = Marked(
        before=book.level(before),
        after=book.level(readings["after"]),
        grease_kg=given.grease_kg,
        during=None if during is None else book.level(during),
        during_grease_kg=given.during_grease_kg,
        rose_during=given.rose_during,
    )
    ids = [one.reading_id for one in evidence.baseline]
    return {
        **_columns(outcome_of(marked, base, charge_kg)),
        "charge_kg": charge_kg,
        "inputs": baseline_levels(base, ids, charge_kg),
    }


def _columns(done: physics.Greasing) -> dict[str, Any]:
    """Return an outcome as the columns take it."""
    return {
        "method": physics.METHOD,
        "method_version": physics.VERSION,
        "outcome": done.outcome,
        "advice": done.advice,
        "change_db": done.change.value,
        "change_low_db": done.change.low,
        "change_high_db": done.change.high,
        "left_kg": done.left_kg,
        "reasons": [reason._asdict() for reason in dict.fromkeys((*done.reasons, *done.change.reasons))],
    }
