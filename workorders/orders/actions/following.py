"""What follows from a move for the findings of the order, done by the acts of the rooms below."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from findings.readings.models import Reading
from findings.register import actions as register
from findings.register.models import Finding
from findings.register.queries import findings
from findings.register.rules import OPEN_STATUSES, ClosureReason, FindingStatus
from findings.routes.actions import request_visit
from findings.routes.rules import VisitReason
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid
from workorders.orders.models import OrderFinding, WorkOrder
from workorders.orders.rules import Follow

WAITING_FOR_REPAIR: Final = frozenset({FindingStatus.OPEN, FindingStatus.DEFERRED})


class FindingsStillOpen(Conflict):
    """An order closes when each of its findings is proven gone or excused."""

    code = "findings_still_open"
    title = "The order has findings that are still open."


class ReadingElsewhere(Invalid):
    """The reading was not taken at a point of the order."""

    code = "unknown_reference"
    title = "The reading is none of the order's measuring points."


@dataclass(frozen=True, slots=True)
class Step:
    """The move that was made: the order as it stands after it, by whom, when, and on what evidence."""

    order: WorkOrder
    actor: Actor
    at: datetime
    evidence: Mapping[str, Any]


def lock_findings(order: WorkOrder, *, with_ended: bool) -> list[Finding]:
    """Lock the findings of an order, before the logbook and always in one order, and return them.

    So acts on several findings never wait for each other crosswise. Those that a check has closed
    already belong to the order no longer, unless asked for.
    """
    tied = OrderFinding.objects.filter(order=order)
    if not with_ended:
        tied = tied.filter(ended_at__isnull=True)
    rows = findings().filter(pk__in=list(tied.values_list("finding_id", flat=True)))
    return list(rows.select_for_update(of=("self",), no_key=True).order_by("pk"))


def carry_out(follows: Collection[Follow], step: Step, found: Collection[Finding]) -> None:
    """Do what follows, in the order of the table.

    The losses follow inside the register's own acts, the due times stand on the order already, and
    the later visit is asked for by the verification.
    """
    for follow in follows:
        if follow in _HANDS:
            _HANDS[follow](step, found)


def _report_repaired(step: Step, found: Collection[Finding]) -> None:
    for finding in found:
        if finding.status in WAITING_FOR_REPAIR:
            register.report_repaired(
                actor=step.actor, at=step.at, finding_id=finding.pk, repaired_at=step.evidence["repaired_at"]
            )


def _close(step: Step, found: Collection[Finding]) -> None:
    still_open = [finding for finding in found if finding.status in OPEN_STATUSES]
    reason = step.evidence.get("closure_reason")
    if still_open and not reason:
        names = ", ".join(str(finding) for finding in still_open)
        text = f"Not proven gone yet: {names}."
        raise FindingsStillOpen(text)
    for finding in still_open:
        register.close_by_reason(
            actor=step.actor,
            at=step.at,
            finding_id=finding.pk,
            closure_reason=ClosureReason(str(reason)),
            closure_text=str(step.evidence["closure_text"]),
        )
    _untie(step)


def _reopen(step: Step, found: Collection[Finding]) -> None:
    """Reopen what a new reading speaks of; after a failed check the register has done so already."""
    if "reading" not in step.evidence:
        return
    reading_id = uuid.UUID(str(step.evidence["reading"]))
    point_id = Reading.objects.filter(pk=reading_id).values_list("point_id", flat=True).first()
    fitting = [finding for finding in found if finding.point_id == point_id]
    if not fitting:
        raise ReadingElsewhere(
            errors=[FieldError("/reading_id", "unknown_reference", ReadingElsewhere.title)]
        )
    for finding in fitting:
        if finding.status == FindingStatus.CLOSED:
            register.reopen(actor=step.actor, at=step.at, finding_id=finding.pk, reading_id=reading_id)
    OrderFinding.objects.filter(order=step.order, finding__in=fitting).update(ended_at=None)


def _release(step: Step, _: Collection[Finding]) -> None:
    """Let the findings go: cancelling an order never closes a finding."""
    _untie(step)


def _untie(step: Step) -> None:
    OrderFinding.objects.filter(order=step.order, ended_at__isnull=True).update(ended_at=step.at)


def _request_check(step: Step, found: Collection[Finding]) -> None:
    order = step.order
    by = order.verify_by_at or order.due_at
    due_on = max(by, step.at).astimezone(ZoneInfo(order.site.time_zone)).date()
    for finding in found:
        if finding.status in OPEN_STATUSES:
            request_visit(
                actor=step.actor,
                at=step.at,
                site_id=order.site_id,
                point_id=finding.point_id,
                reason=VisitReason.VERIFICATION,
                origin=f"check:{finding.pk}:{order.pk}:{order.version}",
                due_on=due_on,
                note=f"{finding} after {order}",
                log=False,
            )


_HANDS: Final[Mapping[Follow, Callable[[Step, Collection[Finding]], None]]] = {
    Follow.FINDINGS_REPAIRED: _report_repaired,
    Follow.FINDINGS_CLOSED: _close,
    Follow.FINDINGS_REOPENED: _reopen,
    Follow.FINDINGS_RELEASED: _release,
    Follow.CHECK_REQUESTED: _request_check,
}


def let_go(*, order_id: uuid.UUID, finding_id: uuid.UUID, at: datetime) -> None:
    """Take a finding that was proven gone off an order that goes on with others.

    Called inside the act that proved it. A leak that comes back then gets an order of its own.
    """
    tied = OrderFinding.objects.filter(order_id=order_id, finding_id=finding_id, ended_at__isnull=True)
    tied.update(ended_at=at)
