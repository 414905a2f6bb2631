"""Keep what a technician reports of a repair. Called inside the move that it belongs to."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from plantcare.api.actor import Actor
from plantcare.api.problems import FieldError, Invalid
from workorders.orders.models import RepairReport, WorkOrder

CLOCK_TOLERANCE: Final = timedelta(minutes=10)
"""How far a stated moment may lie ahead of our clock: phones differ by minutes (our judgement)."""


class RepairTimeRefused(Invalid):
    """The repair lies in the future or before the order's findings."""

    code = "repair_time_refused"
    title = "The time of the repair can't be right."


def check_report(order: WorkOrder, given: Mapping[str, object], at: datetime) -> None:
    """Refuse a repair in the future. Raises RepairTimeRefused."""
    repaired_at = given.get("repaired_at")
    if isinstance(repaired_at, datetime) and repaired_at > at + CLOCK_TOLERANCE:
        text = f"{order} can't have been repaired in the future."
        raise RepairTimeRefused(text, errors=[FieldError("/repaired_at", "in_future", text)])


def write_report(
    order: WorkOrder, given: Mapping[str, object], *, actor: Actor, at: datetime
) -> RepairReport:
    """Add the report; money is in the site's currency."""
    fields: Mapping[str, Any] = given
    cost: Decimal | None = fields.get("cost")
    return RepairReport.objects.create(
        site_id=order.site_id,
        order=order,
        outcome=fields["outcome"],
        action_taken=fields.get("action_taken") or fields.get("text") or "",
        cause=fields.get("cause") or "",
        parts=list(fields.get("parts") or []),
        labour_hours=fields.get("labour_hours"),
        cost=cost,
        currency="" if cost is None else order.site.currency,
        repaired_at=fields.get("repaired_at") or at,
        recorded_at=at,
        user_id=actor.user_id,
        isolation_confirmed=bool(fields.get("isolation_confirmed")),
    )
