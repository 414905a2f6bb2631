"""Let orders follow their findings, where those ended without the order's help."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime

from findings.plant.rules import Right
from findings.register.models import Finding
from findings.register.rules import FindingStatus
from plantcare.api.actor import Actor
from plantcare.api.problems import Refusal
from workorders.orders import queries
from workorders.orders.actions.moving import move
from workorders.orders.models import WorkOrder
from workorders.orders.rules import CancelReason, MoveName

_CANCELLED_FOR = {
    FindingStatus.MERGED: CancelReason.MERGED,
    FindingStatus.DISMISSED: CancelReason.REJECTED,
}


def settle_orders(
    *, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None = None, limit: int = 500
) -> int:
    """Close or cancel the orders whose findings have all ended; return how many.

    With a closed finding the order closes, with only merged or dismissed ones it is cancelled. An
    order that somebody moves at the same moment is left for the next run.
    """
    settled = 0
    for order in list(queries.without_open_finding(site_ids)[:limit]):
        try:
            settled += settle(actor=actor, at=at, order=order)
        except Refusal:
            continue
    return settled


def settle(*, actor: Actor, at: datetime, order: WorkOrder) -> int:
    """Close or cancel one order whose findings have all ended. Raises what the move raises."""
    found = list(queries.order_findings(order.pk))
    closed = [finding for finding in found if finding.status == FindingStatus.CLOSED]
    name = MoveName.CLOSE if closed else MoveName.CANCEL
    move(
        actor=actor,
        at=at,
        order_id=order.pk,
        name=name,
        evidence=_how_closed(closed[-1]) if closed else _why_cancelled(found),
        rights=frozenset(Right),
        version=order.version,
    )
    return 1


def _how_closed(finding: Finding) -> dict[str, object]:
    if finding.closure_reason:
        return {"closure_reason": finding.closure_reason, "closure_text": finding.closure_text}
    return {"verification": str(finding.closing_reading_id), "verdict": "passed"}


def _why_cancelled(found: Sequence[Finding]) -> dict[str, object]:
    statuses = {FindingStatus(finding.status) for finding in found}
    status = FindingStatus.MERGED if FindingStatus.MERGED in statuses else FindingStatus.DISMISSED
    return {"cancel_reason": _CANCELLED_FOR[status]}
