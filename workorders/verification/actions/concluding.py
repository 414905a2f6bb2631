"""What follows from a verdict. Called inside the act that judged, never alone."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from findings.kinds.base import Kind
from findings.plant.rules import Right
from findings.register import actions as register
from findings.register.models import Finding
from findings.register.rules import OPEN_STATUSES
from findings.routes.actions import request_visit
from findings.routes.rules import VisitReason
from plantcare.api.actor import Actor
from workorders.orders import actions as orders
from workorders.orders.models import OrderFinding, WorkOrder
from workorders.orders.rules import MoveName, OrderState
from workorders.verification import queries
from workorders.verification.models import Verification
from workorders.verification.rules import Due, Verdict, earliest, machine_work_due, persistence_due

_AFTER_CHECK = 1
"""The check itself was the first of the visits after work on a machine."""


def conclude(
    verification: Verification, finding: Finding, order: WorkOrder | None, *, actor: Actor, at: datetime
) -> None:
    """Close or reopen the finding and its order, and ask for the next visit; doubt changes nothing."""
    verdict = Verdict(verification.verdict)
    if verdict is Verdict.PASSED:
        _passed(verification, finding, order, actor=actor, at=at)
    elif verdict in (Verdict.FAILED, Verdict.PARTIAL):
        _not_passed(verification, finding, order, actor=actor, at=at)


def _passed(
    verification: Verification, finding: Finding, order: WorkOrder | None, *, actor: Actor, at: datetime
) -> None:
    assert verification.reading_id is not None  # noqa: S101 - narrows the type
    register.close_by_reading(actor=actor, at=at, finding_id=finding.pk, reading_id=verification.reading_id)
    if order is not None and _has_others(order, finding):
        orders.let_go(order_id=order.pk, finding_id=finding.pk, at=at)
    elif order is not None:
        _move(MoveName.CLOSE, verification, order, actor=actor, at=at)
    _look_again(verification, finding, actor=actor, at=at)


def _has_others(order: WorkOrder, finding: Finding) -> bool:
    tied = OrderFinding.objects.filter(order=order, ended_at__isnull=True).exclude(finding=finding)
    return tied.filter(finding__status__in=list(OPEN_STATUSES)).exists()


def _not_passed(
    verification: Verification, finding: Finding, order: WorkOrder | None, *, actor: Actor, at: datetime
) -> None:
    assert verification.reading_id is not None  # noqa: S101 - narrows the type
    partial = verification.verdict == Verdict.PARTIAL
    register.reject_repair(
        actor=actor,
        at=at,
        finding_id=finding.pk,
        reading_id=verification.reading_id,
        residual=verification.residual_m3_per_s if partial else None,
        partial=partial,
    )
    if order is not None and order.state == OrderState.REPAIRED:
        _move(MoveName.REOPEN, verification, order, actor=actor, at=at)


def _move(
    name: MoveName, verification: Verification, order: WorkOrder, *, actor: Actor, at: datetime
) -> None:
    orders.move(
        actor=actor,
        at=at,
        order_id=order.pk,
        name=name,
        evidence={"verification": verification.pk, "verdict": verification.verdict},
        rights=frozenset({Right.VERIFY}),
    )


def _look_again(verification: Verification, finding: Finding, *, actor: Actor, at: datetime) -> None:
    """Ask for another visit some weeks on, to see whether the repair lasts."""
    zone = ZoneInfo(finding.site.time_zone)
    due = _due(verification, finding, zone)
    request_visit(
        actor=actor,
        at=at,
        site_id=finding.site_id,
        point_id=finding.point_id,
        reason=VisitReason.AFTER_REPAIR,
        origin=f"after-repair:{finding.pk}:{queries.count_passed(finding.pk)}",
        due_on=max(due.on, at.astimezone(zone).date()),
        note=f"{finding}: {due.reason.text}",
        log=False,
    )


def _due(verification: Verification, finding: Finding, zone: ZoneInfo) -> Due:
    verified_on: date = verification.at.astimezone(zone).date()
    lasting = persistence_due(verified_on, chronic=finding.reopened_count > 0, sampled=True)
    worked_on = verification.repaired_at.astimezone(zone).date()
    machine = finding.kind == Kind.MECHANICAL_WEAR
    return earliest(lasting, machine_work_due(worked_on, _AFTER_CHECK) if machine else None)
