"""Work orders as the pages show them."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.db.models import Q

from findings.plant.models import Site
from findings.register.models import Finding
from workorders.desk.queries.paging import Slice, Step, sliced
from workorders.orders import queries as orders
from workorders.orders.models import OPEN, OrderFinding, WorkOrder

ORDERS: Final[Mapping[str, tuple[Step, ...]]] = {
    "urgent": (Step("priority"), Step("due_at"), Step("id")),
    "due": (Step("due_at"), Step("id")),
    "newest": (Step("opened_at", down=True), Step("id", down=True)),
}


@dataclass(frozen=True, slots=True)
class OrderFilter:
    """What a list is narrowed to; state "" is the open ones."""

    state: str = ""
    priority: str = ""
    overdue: bool = False
    assignee_id: int | None = None
    text: str = ""


def order_list(site: Site, wanted: OrderFilter, *, order: str, after: str, at: datetime) -> Slice[WorkOrder]:
    """Return a slice of the list (one query); an unknown order is the most urgent first."""
    rows = orders.shown(at).filter(site=site)
    if wanted.state != "all":
        rows = rows.filter(Q(state=wanted.state) if wanted.state else OPEN)
    if wanted.priority:
        rows = rows.filter(priority=wanted.priority)
    if wanted.overdue:
        rows = orders.only_overdue(rows, at, yes=True)
    if wanted.assignee_id is not None:
        rows = rows.filter(assignee_id=wanted.assignee_id)
    rows = rows.filter(_text(wanted.text))
    return sliced(rows, ORDERS.get(order, ORDERS["urgent"]), after)


def _text(text: str) -> Q:
    digits = text.strip().upper().removeprefix("W-").removeprefix("W")
    if digits.isascii() and digits.isdigit() and len(digits) <= 9:
        return Q(number=int(digits))
    condition = Q()
    for word in text.split()[:6]:
        condition &= (
            Q(title__icontains=word) | Q(asset__code__icontains=word) | Q(asset__name__icontains=word)
        )
    return condition


def overdue_orders(site: Site, at: datetime, size: int = 8) -> list[WorkOrder]:
    """Return the orders past their time, the most urgent first (one query); one more than asked for."""
    rows = orders.only_overdue(orders.shown(at).filter(site=site), at, yes=True)
    return list(rows.order_by("priority", "due_at", "id")[: size + 1])


def order_seen(order_id: uuid.UUID, site_ids: Collection[uuid.UUID], at: datetime) -> WorkOrder | None:
    """Return one order of these sites, or None: hidden and unknown are the same."""
    return orders.shown(at).filter(pk=order_id, site_id__in=list(site_ids)).first()


def findings_of(order_id: uuid.UUID) -> list[Finding]:
    """Return the findings that an order is to repair, by number."""
    rows = OrderFinding.objects.filter(order_id=order_id)
    held = rows.select_related("finding__asset", "finding__point").order_by("finding__number")
    return [row.finding for row in held]


def findings_of_each(order_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, list[Finding]]:
    """Return the findings of several orders (one query)."""
    found: dict[uuid.UUID, list[Finding]] = defaultdict(list)
    rows = OrderFinding.objects.filter(order_id__in=list(order_ids)).select_related("finding")
    for row in rows.order_by("finding__number"):
        found[row.order_id].append(row.finding)
    return dict(found)
