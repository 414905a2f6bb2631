"""Say what is known of a point's bearing, and since when its machine was good; a wrong word is voided."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Model

from findings.conditions.models import BearingParticulars, GoodState
from findings.conditions.rules.bearings import Particulars, Problem, particulars_problems
from findings.conditions.rules.good_states import GoodCause, reason_is_written
from findings.logbook import actions as logbook
from findings.plant import actions as plant
from findings.plant.models import MeasuringPoint
from findings.readings.rules import FUTURE_TOLERANCE
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound, constraint_refusals


class ParticularsDated(Conflict):
    """Two sets of particulars can't begin to hold at once."""

    code = "particulars_dated"
    title = "Particulars hold from this very moment already; void them first."


class ParticularsVoid(Conflict):
    """A row is voided once."""

    code = "particulars_void"
    title = "These particulars are void already."


class GoodStateDated(Conflict):
    """Two words can't begin to hold at once."""

    code = "good_state_dated"
    title = "The machine was said to be good from this very moment already; void that first."


class GoodStateVoid(Conflict):
    """A row is voided once."""

    code = "good_state_void"
    title = "This confirmation is void already."


constraint_refusals.update(
    {"bearing_once_per_moment": ParticularsDated, "good_state_once_per_moment": GoodStateDated}
)


def say_particulars(
    *,
    actor: Actor,
    at: datetime,
    point_id: uuid.UUID,
    known: Particulars,
    from_at: datetime,
    source: str,
) -> BearingParticulars:
    """Say what is known of the bearing or gear at a point from a moment on.

    Raises NotFound, Invalid with a pointer per problem, ParticularsDated.
    """
    with transaction.atomic():
        point = point_of(point_id)
        refuse_problems(particulars_problems(known))
        if not source.strip():
            plant.refuse("/source", "blank", "Say where this is known from.")
        same = BearingParticulars.objects.filter(point=point, from_at=from_at, void_at__isnull=True)
        if same.exists():
            raise ParticularsDated(errors=[FieldError("/from_at", "particulars_dated", "Void them first.")])
        row = BearingParticulars.objects.create(
            site_id=point.site_id,
            point=point,
            source=source.strip(),
            from_at=from_at,
            recorded_at=at,
            **asdict(known),
        )
        said = {name: value for name, value in asdict(known).items() if value not in {None, ""}}
        tell(row, "bearing_particulars", "bearing_particulars.said", actor, at, {**said, **_when(row)})
    return row


def void_particulars(
    *, actor: Actor, at: datetime, particulars_id: uuid.UUID, reason: str
) -> BearingParticulars:
    """Void particulars: they never held. Raises NotFound, Invalid without a reason, ParticularsVoid."""
    told = plant.check_reason(reason)
    with transaction.atomic():
        row = plant.void_row(BearingParticulars, particulars_id, at=at, reason=told, already=ParticularsVoid)
        tell(row, "bearing_particulars", "bearing_particulars.voided", actor, at, _when(row), told)
    return row


def confirm_good(
    *,
    actor: Actor,
    at: datetime,
    point_id: uuid.UUID,
    cause: GoodCause | str,
    from_at: datetime,
    reason: str,
    until_at: datetime | None = None,
) -> GoodState:
    """Say that a point's machine was good from a moment on, so that a new baseline begins there.

    Fresh grease is no such moment. Raises NotFound, Invalid, GoodStateDated.
    """
    with transaction.atomic():
        point = point_of(point_id)
        _check_good(at, from_at, until_at, reason)
        same = GoodState.objects.filter(point=point, from_at=from_at, void_at__isnull=True)
        if same.exists():
            raise GoodStateDated(errors=[FieldError("/from_at", "good_state_dated", "Void that first.")])
        row = GoodState.objects.create(
            site_id=point.site_id,
            point=point,
            cause=GoodCause(cause),
            from_at=from_at,
            until_at=until_at,
            reason=reason.strip(),
            user_id=actor.user_id,
            actor_name=actor.name[:200],
            recorded_at=at,
        )
        detail = {"cause": row.cause, "until_at": until_at, **_when(row)}
        tell(row, "good_state", "good_state.confirmed", actor, at, detail, row.reason)
    return row


def void_good_state(*, actor: Actor, at: datetime, good_state_id: uuid.UUID, reason: str) -> GoodState:
    """Void a word: no baseline begins there. Raises NotFound, Invalid without a reason, GoodStateVoid."""
    told = plant.check_reason(reason)
    with transaction.atomic():
        row = plant.void_row(GoodState, good_state_id, at=at, reason=told, already=GoodStateVoid)
        tell(row, "good_state", "good_state.voided", actor, at, {"cause": row.cause, **_when(row)}, told)
    return row


def _check_good(at: datetime, from_at: datetime, until_at: datetime | None, reason: str) -> None:
    if from_at > at + FUTURE_TOLERANCE:
        plant.refuse("/from_at", "in_the_future", "A machine is said to be good once it is.")
    if until_at is not None and not until_at > from_at:
        plant.refuse("/until_at", "before_from", "It lies after the moment from which readings count.")
    if not reason_is_written(reason):
        plant.refuse("/reason", "too_short", "Say in at least ten characters how that is known.")


def point_of(point_id: uuid.UUID) -> MeasuringPoint:
    """Return a measuring point, its row held so that acts on one point wait for each other; or NotFound."""
    points = MeasuringPoint.objects.select_for_update(no_key=True)
    point = points.filter(pk=point_id).first()
    if point is None:
        raise NotFound
    return point


def refuse_problems(problems: Sequence[Problem]) -> None:
    """Raise Invalid with every problem at its pointer; nothing where there is none."""
    if problems:
        raise Invalid(errors=[FieldError(f"/{one.member}", one.code, one.text) for one in problems])


def tell(
    row: Model,
    kind: str,
    act: str,
    actor: Actor,
    at: datetime,
    detail: Mapping[str, Any],
    reason: str = "",
) -> None:
    """Write the one entry of an act on a row of this room."""
    logbook.write(
        site_id=vars(row)["site_id"],
        actor=actor,
        at=at,
        act=act,
        subject_kind=kind,
        subject_id=row.pk,
        reason=reason,
        detail=dict(detail),
    )


def _when(row: BearingParticulars | GoodState) -> dict[str, Any]:
    return {"point_id": row.point_id, "from_at": row.from_at}
