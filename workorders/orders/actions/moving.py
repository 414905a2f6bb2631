"""Move an order through its life, with everything that follows, in one transaction."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any, Final

from django.db import transaction

from findings.plant.rules import Right
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Forbidden, Refusal, Unprocessable, pointer
from workorders.orders.actions import guards, levels, pausing
from workorders.orders.actions.following import Step, carry_out, lock_findings
from workorders.orders.actions.opening import check_assignee
from workorders.orders.actions.reporting import check_report, write_report
from workorders.orders.actions.shut import refuse_kept_shut
from workorders.orders.models import WorkOrder
from workorders.orders.queries import kinds_of
from workorders.orders.rules import (
    Follow,
    Granted,
    Move,
    MoveName,
    MoveRefused,
    OrderState,
    PriorityClass,
    check_move,
)

ACTS: Final[Mapping[MoveName, str]] = {
    MoveName.RELEASE: "work_order.released",
    MoveName.SCHEDULE: "work_order.scheduled",
    MoveName.START: "work_order.started",
    MoveName.WAIT: "work_order.waiting",
    MoveName.RESUME: "work_order.resumed",
    MoveName.REPORT_REPAIR: "work_order.repair_reported",
    MoveName.CLOSE: "work_order.closed",
    MoveName.REOPEN: "work_order.reopened",
    MoveName.CANCEL: "work_order.cancelled",
}
ANSWERS: Final = frozenset({MoveName.SCHEDULE, MoveName.START, MoveName.WAIT, MoveName.REPORT_REPAIR})
"""The moves that answer an order: somebody has said when, begun, or said what it waits for."""
# Ids are taken only where they are looked up: an id that nobody checks must not enter the record.
ONLY_FOR: Final[Mapping[str, MoveName]] = {"assignee": MoveName.SCHEDULE, "reading": MoveName.REOPEN}
_MEMBERS: Final[Mapping[str, str]] = {"text": "reason", "assignee": "assignee_id", "reading": "reading_id"}
_LONGEST_WAITING_REASON: Final = 300


class MoveNotAllowed(Conflict):
    """The order's state has no such move."""

    code = "move_not_allowed"
    title = "The order's state does not allow this move."


class EvidenceOutOfPlace(Unprocessable):
    """The move takes no such evidence."""

    code = "evidence_out_of_place"
    title = "The move takes no such evidence."


class EvidenceMissing(Unprocessable):
    """The move is not proven."""

    code = "evidence_missing"
    title = "The move still needs something."


def move(
    *,
    actor: Actor,
    at: datetime,
    order_id: uuid.UUID,
    name: MoveName,
    evidence: Mapping[str, object],
    rights: Collection[Right],
    version: int | None = None,
) -> WorkOrder:
    """Take one row of the table of moves; what follows for the findings stands or falls with it.

    Evidence holds what the row asks, named as there, and a free `text`. Raises OrderUnknown,
    OrderChanged, MoveNotAllowed, EvidenceMissing, EvidenceOutOfPlace, Forbidden, and the refusals of
    what follows.
    """
    with transaction.atomic():
        order = guards.load(order_id, version)
        given = {**({"assignee": order.assignee_id} if order.assignee_id else {}), **evidence}
        row = _row(order, name, given, rights)
        _refuse_out_of_place(name, evidence)
        _check(order, row, given, at)
        before = OrderState(order.state)
        held = _held(order, row, given, at)
        fields = {**_fields(order, row, given, actor, at), **pausing.clock_fields(order, row, held, at)}
        order = guards.guarded(order, actor, state=row.target, **fields, **_promises(order, row, given, at))
        found = lock_findings(order, with_ended=before is OrderState.CLOSED)
        if name is MoveName.REPORT_REPAIR:
            write_report(order, given, actor=actor, at=at)
        guards.log(
            order,
            actor=actor,
            at=at,
            act=ACTS[name],
            reason=str(given.get("text") or ""),
            detail={"from": before, "to": row.target, "evidence": dict(evidence)},
        )
        pausing.turn(order, row, held, given, actor, at)
        carry_out(row.follows, Step(order=order, actor=actor, at=at, evidence=given), found)
    return guards.load(order.pk)


def _row(order: WorkOrder, name: MoveName, given: Mapping[str, object], rights: Collection[Right]) -> Move:
    try:
        return check_move(OrderState(order.state), name, rights, given, hazard=order.is_safety)
    except MoveRefused as refused:
        raise _refusal(refused, order) from refused


def _refusal(refused: MoveRefused, order: WorkOrder) -> Refusal:
    text = str(refused)
    if refused.code == "right_missing":
        return Forbidden(text)
    if refused.code == "evidence_missing":
        errors = [_error(name, "required", "Needed for this move.") for name in refused.missing]
        return EvidenceMissing(text, errors=errors, state=order.state, move=refused.name)
    return MoveNotAllowed(text, state=order.state, move=refused.name)


def _error(name: str, code: str, text: str) -> FieldError:
    """Point at a piece of evidence by the name that it has in a request."""
    return FieldError(pointer(_MEMBERS.get(name, name)), code, text)


def _refuse_out_of_place(name: MoveName, evidence: Mapping[str, object]) -> None:
    wrong = [word for word, move_ in ONLY_FOR.items() if evidence.get(word) is not None and move_ is not name]
    if wrong:
        text = EvidenceOutOfPlace.title
        raise EvidenceOutOfPlace(errors=[_error(word, EvidenceOutOfPlace.code, text) for word in wrong])


def _check(order: WorkOrder, row: Move, given: Mapping[str, object], at: datetime) -> None:
    """Refuse evidence that is there but cannot be true."""
    if row.name is MoveName.SCHEDULE:
        check_assignee(order.site_id, int(str(given["assignee"])))
    if row.name is MoveName.START:
        refuse_kept_shut(order, at)
    if row.name is MoveName.REPORT_REPAIR:
        check_report(order, given, at)


def _fields(
    order: WorkOrder, row: Move, given: Mapping[str, object], actor: Actor, at: datetime
) -> dict[str, Any]:
    """Return what the move writes on the order besides its state."""
    fields: dict[str, Any] = {}
    match row.name:
        case MoveName.SCHEDULE:
            fields = {"scheduled_for_at": given["scheduled_for"], "assignee_id": given["assignee"]}
        case MoveName.START:
            fields = {"started_at": at, "assignee_id": order.assignee_id or actor.user_id}
        case MoveName.CANCEL:
            fields = {"cancel_reason": given["cancel_reason"]}
    match row.target:
        case OrderState.WAITING:
            fields["waiting_reason"] = _waiting_reason(given)
        case OrderState.REPAIRED:
            fields["repaired_at"] = given["repaired_at"]
        case OrderState.READY:
            fields |= {"waiting_reason": "", "scheduled_for_at": None, "started_at": None}
        case OrderState.CLOSED | OrderState.CANCELLED:
            fields["ended_at"] = at
    if row.name in ANSWERS and order.responded_at is None:
        fields["responded_at"] = at
    return fields


def _held(order: WorkOrder, row: Move, given: Mapping[str, object], at: datetime) -> Granted:
    """Return which clocks stand still after a move."""
    if row.target is not OrderState.WAITING:
        return Granted(frozenset())
    return pausing.granted_to(order, pausing.wait_reason_of(given), at)


def _promises(order: WorkOrder, row: Move, given: Mapping[str, object], at: datetime) -> dict[str, Any]:
    """Return the promised times that a move begins: all of them, or that of the check of a repair."""
    if Follow.CLOCKS_STARTED not in row.follows and row.target is not OrderState.REPAIRED:
        return {}
    priority, kinds = PriorityClass(order.priority), kinds_of(order.pk)
    promised = levels.levels_at(order.site_id, priority, kinds, at, is_safety=order.is_safety)
    if row.target is OrderState.REPAIRED:
        repaired_at: Any = given["repaired_at"]
        fresh = levels.promise(order.site, promised, order.clock_from_at, repaired_at)
        kept = {**order.promise, "verify": fresh["promise"]["verify"]}
        return {"verify_by_at": fresh["verify_by_at"], "promise": kept}
    begun = {"repaired_at": None, "ended_at": None, "responded_at": None}
    return {**begun, **levels.promise(order.site, promised, at)}


def _waiting_reason(given: Mapping[str, object]) -> str:
    reason = str(pausing.wait_reason_of(given))
    text = str(given.get("text") or "").strip()
    return (f"{reason}: {text}" if text else reason)[:_LONGEST_WAITING_REASON]
