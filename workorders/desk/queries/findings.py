"""Findings as the pages show them: the list and its filters, the first page's short lists, one whole."""

from __future__ import annotations

import re
import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from django.db.models import Exists, OuterRef, Q

from findings.plant.models import Site
from findings.plant.rules import Right
from findings.register import queries as register
from findings.register.models import OPEN, Finding
from findings.register.rules import FindingStatus
from workorders.desk.queries.costs import Costs
from workorders.desk.queries.counts import AGE_BANDS
from workorders.desk.queries.notices import steps_asked
from workorders.desk.queries.paging import Slice, Step, sliced
from workorders.desk.rules.months import bounds
from workorders.orders import queries as orders
from workorders.orders.models import OrderFinding, WorkOrder

LOSING: Final = Q(status__in=[FindingStatus.OPEN, FindingStatus.DEFERRED])
"""A repaired finding loses nothing until somebody hears it again."""

ORDERS: Final[Mapping[str, tuple[Step, ...]]] = {
    "newest": (Step("found_at", down=True), Step("id", down=True)),
    "oldest": (Step("found_at"), Step("id")),
    "dearest": (Step("cost_now", down=True), Step("id", down=True)),
}


@dataclass(frozen=True, slots=True)
class FindingFilter:
    """What a list is narrowed to; an empty value narrows nothing, status "" is the open ones."""

    status: str = ""
    kind: str = ""
    area_id: uuid.UUID | None = None
    safety: bool = False
    text: str = ""
    age: str = ""
    found_in: date | None = None
    closed_in: date | None = None
    asked_of: frozenset[Right] | None = None
    """Only those that wait for somebody with these rights to see to them."""


def _listed(site: Site, costs: Costs) -> Any:
    """Return a site's findings with ``cost_now``, what they cost per hour at present."""
    return (
        Finding.objects.filter(site=site)
        .select_related("asset__area", "point")
        .annotate(cost_now=costs.column(losing=LOSING))
    )


def finding_list(
    site: Site, wanted: FindingFilter, *, order: str, after: str, at: datetime, costs: Costs
) -> Slice[Finding]:
    """Return a slice of the list (one query); an unknown order is the newest first."""
    rows = _listed(site, costs).filter(_condition(site, wanted, at))
    return sliced(rows, ORDERS.get(order, ORDERS["newest"]), after)


def _condition(site: Site, wanted: FindingFilter, at: datetime) -> Q:
    condition = _standing(wanted.status)
    if wanted.kind:
        condition &= Q(kind=wanted.kind)
    if wanted.area_id is not None:
        condition &= Q(asset__area_id=wanted.area_id)
    if wanted.safety:
        condition &= Q(is_safety=True)
    if wanted.asked_of is not None:
        condition &= Q(Exists(steps_asked(site.pk, wanted.asked_of).filter(finding_id=OuterRef("pk"))))
    for band in AGE_BANDS:
        if band.key == wanted.age:
            condition &= band.holds(at)
    if wanted.found_in is not None:
        condition &= _within("found_at", wanted.found_in, site)
    if wanted.closed_in is not None:
        condition &= _within("closed_at", wanted.closed_in, site)
    return condition & _text(wanted.text)


def _standing(status: str) -> Q:
    if status == "all":
        return Q()
    if status == "counted":
        return ~Q(status__in=[FindingStatus.DISMISSED, FindingStatus.MERGED])
    return Q(status=status) if status else OPEN


def _within(moment: str, month_on: date, site: Site) -> Q:
    start, end = bounds(month_on, site.time_zone)
    return Q(**{f"{moment}__gte": start, f"{moment}__lt": end})


def _text(text: str) -> Q:
    """Look for a finding's number, or for words in the names and codes of asset and point."""
    number = re.fullmatch(r"(?:F-?)?([0-9]{1,9})", text.strip(), re.ASCII | re.IGNORECASE)
    condition = Q(number=int(number[1])) if number else Q()
    for word in text.split()[:6]:
        here = Q()
        for name in ("asset__code", "asset__name", "point__code", "point__name"):
            here |= Q(**{f"{name}__icontains": word})
        condition = condition | here if number else condition & here
    return condition


@dataclass(frozen=True, slots=True)
class ShortLists:
    """The first page's lists: dangers, the oldest, the dearest."""

    safety: list[Finding]
    oldest: list[Finding]
    dearest: list[Finding]


def short_lists(site: Site, costs: Costs, size: int = 6) -> ShortLists:
    """Return the open findings that come first by danger, age and money (one query)."""
    rows = _listed(site, costs).filter(OPEN)
    loud = LOSING & Q(is_safety=True)
    chosen = [
        rows.filter(loud).order_by("found_at", "id"),
        rows.order_by("found_at", "id"),
        rows.filter(cost_now__gt=0).order_by("-cost_now", "id"),
    ]
    within = Q()
    for one in chosen:
        within |= Q(pk__in=one.values("pk")[:size])
    found = sorted(rows.filter(within), key=lambda row: (row.found_at, row.pk))
    by_cost = sorted(found, key=lambda row: (-_cost(row), row.pk))
    return ShortLists(
        [row for row in found if row.is_safety and row.status != FindingStatus.REPAIRED][:size],
        found[:size],
        [row for row in by_cost if _cost(row) > 0][:size],
    )


def _cost(row: Any) -> Decimal:
    return Decimal(row.cost_now)


def orders_of(finding_ids: Collection[uuid.UUID], at: datetime) -> dict[uuid.UUID, WorkOrder]:
    """Return the open order of each finding that has one (two queries)."""
    rows = OrderFinding.objects.filter(finding_id__in=list(finding_ids), ended_at__isnull=True)
    tied = dict(rows.values_list("finding_id", "order_id"))
    found = {order.pk: order for order in orders.shown(at).filter(pk__in=set(tied.values()))}
    return {finding_id: found[order_id] for finding_id, order_id in tied.items() if order_id in found}


def finding_seen(finding_id: uuid.UUID, site_ids: Collection[uuid.UUID]) -> Finding | None:
    """Return one finding of these sites, or None: hidden and unknown are the same."""
    beside = ("asset__parent", "merged_into", "follows", "closing_reading", "standing")
    rows = register.findings().select_related(*beside)
    return rows.filter(pk=finding_id, site_id__in=list(site_ids)).first()


def same_place(finding: Finding, size: int = 10) -> Sequence[Finding]:
    """Return the other findings at the same measuring point, newest first."""
    rows = Finding.objects.filter(point_id=finding.point_id).exclude(pk=finding.pk)
    return list(rows.order_by("-found_at", "-id")[:size])
