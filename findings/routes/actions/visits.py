"""Ask for visits of a measuring point, and settle them."""

from __future__ import annotations

import uuid
from datetime import date, datetime
from typing import Any, TypedDict, Unpack

from django.db import transaction
from django.db.models import F

from findings.logbook import actions as logbook
from findings.plant import actions as plant
from findings.plant.models import MeasuringPoint
from findings.routes.models import VisitRequest
from findings.routes.rules import VisitReason, VisitState, answers
from plantcare.api import versions
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, NotFound


class VisitSettled(Conflict):
    """It was done or dropped before."""

    code = "visit_settled"
    title = "The visit is done or dropped already."


class VisitChanges(TypedDict, total=False):
    """What may change about a visit that is still wanted."""

    due_on: date
    note: str


def request_visit(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    point_id: uuid.UUID,
    reason: VisitReason | str,
    origin: str,
    due_on: date,
    note: str = "",
    log: bool = True,
) -> VisitRequest:
    """Ask for a visit, once per origin: asking again returns the first request, as it stands now.

    ``origin`` names what asks: a finding, an order, a rule with its date. With ``log`` False the act that
    this is part of writes the logbook. Raises OtherSite, Invalid.
    """
    with transaction.atomic():
        point = MeasuringPoint.objects.filter(pk=point_id).first()
        plant.same_site(site_id, "/point_id", point.site_id if point else None)
        if reason not in set(VisitReason):
            plant.refuse("/reason", "invalid_choice", f"One of {', '.join(VisitReason)}.")
        if not origin.strip():
            plant.refuse("/origin", "blank", "Say what asks for the visit.")
        visit, created = VisitRequest.objects.get_or_create(
            site_id=site_id,
            origin=origin.strip(),
            defaults={
                "point_id": point_id,
                "reason": VisitReason(reason),
                "due_on": due_on,
                "note": note.strip(),
                "created_at": at,
            },
        )
        if created and log:
            detail = {"point_id": point_id, "reason": reason, "due_on": due_on, "origin": visit.origin}
            _log(visit, actor, at, "visit.requested", detail=detail)
    return visit


def change_visit(
    *,
    actor: Actor,
    at: datetime,
    visit_id: uuid.UUID,
    version: int | None = None,
    **changes: Unpack[VisitChanges],
) -> VisitRequest:
    """Change a wanted visit's day or note. Raises NotFound, VisitSettled, PreconditionFailed."""
    with transaction.atomic():
        visit = _wanted(visit_id)
        changed = versions.change(visit, version, changes)
        if changed:
            _log(visit, actor, at, "visit.changed", detail={"changed": changed})
    return visit


def drop_visit(
    *, actor: Actor, at: datetime, visit_id: uuid.UUID, reason: str, version: int | None = None
) -> VisitRequest:
    """Say that a visit is no longer wanted. Raises NotFound, Invalid, VisitSettled, PreconditionFailed."""
    if not reason.strip():
        plant.refuse("/reason", "blank", "A reason is needed.")
    with transaction.atomic():
        visit = _wanted(visit_id)
        versions.change(visit, version, {"state": VisitState.DROPPED.value})
        _log(visit, actor, at, "visit.dropped", reason=reason.strip())
    return visit


def visit_done(*, site_id: uuid.UUID, point_id: uuid.UUID, reading_id: uuid.UUID, on: date) -> int:
    """Settle the wanted visits that a reading of a day answers, and return how many.

    Part of the act that takes the reading; writes no logbook of its own.
    """
    rows = VisitRequest.objects.filter(site_id=site_id, point_id=point_id, state=VisitState.WANTED)
    answered = [
        pk for pk, reason, due_on in rows.values_list("pk", "reason", "due_on") if answers(reason, due_on, on)
    ]
    if not answered:
        return 0
    return rows.filter(pk__in=answered).update(
        state=VisitState.DONE, reading_id=reading_id, version=F("version") + 1
    )


def _wanted(visit_id: uuid.UUID) -> VisitRequest:
    visit = VisitRequest.objects.select_related("point__asset").filter(pk=visit_id).first()
    if visit is None:
        raise NotFound
    if visit.state != VisitState.WANTED:
        raise VisitSettled
    return visit


def _log(
    visit: VisitRequest, actor: Actor, at: datetime, act: str, *, detail: Any = None, reason: str = ""
) -> None:
    logbook.write(
        site_id=visit.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="visit_request",
        subject_id=visit.pk,
        subject_version=visit.version,
        reason=reason,
        detail=detail,
    )
