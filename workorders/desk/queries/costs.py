"""What is lost now and what it costs, per supply system, so that neither page nor list asks per finding."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Any, Final

from django.db.models import (
    Case,
    Count,
    DateTimeField,
    DecimalField,
    F,
    Func,
    Q,
    QuerySet,
    Sum,
    Value,
    When,
)
from django.db.models.expressions import Combinable
from django.db.models.functions import Coalesce, Greatest, Least

from findings.losses.models import LossSegment
from findings.plant.models import Site
from findings.register.rules import FindingStatus
from workorders.statements.queries import price_series
from workorders.statements.rules import to_decimal
from workorders.statements.rules.money import amount_at_rate
from workorders.statements.rules.series import KnownPrices, PriceGapError

UNPRICED: Final = Decimal(-1)
"""Sorts behind every known cost."""

MOST_PIECES: Final = 40
"""A month with more changes of price is worked out on its own page only."""

MOST_STRETCHES: Final = 2_000
"""Losses that begin or end at more different moments are priced on the month's own page only."""

SECONDS_PER_HOUR: Final = Decimal(3600)
_MONEY = DecimalField(max_digits=40, decimal_places=20)


@dataclass(frozen=True, slots=True)
class Costs:
    """Cost per m³ lost (1 bar, 20 °C, dry) at a moment, for the systems whose price is known."""

    currency: str
    per_m3: Mapping[uuid.UUID, Decimal]
    prices: KnownPrices

    def per_hour(self, system_id: uuid.UUID | None, rate_m3_per_s: Decimal | None) -> Decimal | None:
        """Return what a rate costs per hour; None where rate or price is not known."""
        if system_id is None or rate_m3_per_s is None or system_id not in self.per_m3:
            return None
        return rate_m3_per_s * self.per_m3[system_id] * SECONDS_PER_HOUR

    def column(self, losing: Q) -> Combinable:
        """Return a finding's cost per hour as a column; UNPRICED where none is known or nothing is lost."""
        cases = [
            When(
                losing & Q(system_id=system_id, leak_rate_m3_per_s__isnull=False),
                then=F("leak_rate_m3_per_s") * Value(_cut(price * SECONDS_PER_HOUR)),
            )
            for system_id, price in self.per_m3.items()
        ]
        nothing = Value(UNPRICED, output_field=_MONEY)
        # Without any case the bare number would be read as a column's position in ORDER BY.
        return Coalesce(Case(*cases, default=nothing, output_field=_MONEY), nothing, output_field=_MONEY)


def _cut(value: Decimal) -> Decimal:
    """Keep 20 decimals, more than any price has: a column needs a bounded number."""
    return value.quantize(Decimal("1e-20"))


def costs_at(site: Site, at: datetime) -> Costs:
    """Return the site's costs per m³ at a moment (two queries)."""
    series = price_series([site], at)[site.pk]
    prices = series.known(at)
    found: dict[uuid.UUID, Decimal] = {}
    for key in series.systems:
        try:
            found[uuid.UUID(key)] = to_decimal(prices.cost_per_m3_at(key, at))
        except PriceGapError:
            continue
    return Costs(site.currency, found, prices)


@dataclass(frozen=True, slots=True)
class Losses:
    """What a site loses now, and what it lost since a moment.

    `accrued` is None where it takes more than a page's work; losses without a price are only counted.
    """

    rate_m3_per_s: Decimal
    cost_per_hour: Decimal
    priced: int
    unpriced: int
    accrued: Decimal | None


class _Seconds(Func):
    """The length of a time in seconds, exact."""

    function = "EXTRACT"
    template = "EXTRACT(EPOCH FROM %(expressions)s)"
    output_field = DecimalField(max_digits=30, decimal_places=6)


def losses_since(site: Site, costs: Costs, since: datetime, at: datetime) -> Losses:
    """Sum the site's losses by supply system (one query); dismissed and merged findings don't count.

    One query more where electricity is priced by the hour: then losses that ran together are priced together.
    """
    by_hour = costs.prices.has_table(since, at)
    marks = None if by_hour else _marks(costs, since, at)
    running = Q(ended_at__isnull=True)
    wanted: dict[str, Any] = {
        "rate": Sum("leak_rate_m3_per_s", filter=running),
        "number": Count("id", filter=running),
        **{f"m3_{index}": _volume(*piece) for index, piece in enumerate(pairwise(marks or ()))},
    }
    rows: Any = _counted(site, since, at).values("system_id").annotate(**wanted)
    rate, cost, priced, unpriced, accrued = Decimal(0), Decimal(0), 0, 0, Fraction(0)
    for row in rows:
        of_system = row["rate"] or Decimal(0)
        per_hour = costs.per_hour(row["system_id"], of_system)
        rate += of_system
        if per_hour is None:
            unpriced += row["number"]
            continue
        cost, priced = cost + per_hour, priced + row["number"]
        accrued += _accrued(costs, row, marks or [])
    if by_hour:
        return Losses(rate, cost, priced, unpriced, _accrued_by_hour(site, costs, since, at))
    return Losses(rate, cost, priced, unpriced, None if marks is None else to_decimal(accrued))


def _counted(site: Site, since: datetime, at: datetime) -> QuerySet[LossSegment]:
    """Return the site's losses that ran at any time between two moments."""
    rows = LossSegment.objects.filter(
        Q(ended_at__isnull=True) | Q(ended_at__gt=since), site=site, void_at__isnull=True, started_at__lt=at
    )
    return rows.exclude(finding__status__in=[FindingStatus.DISMISSED, FindingStatus.MERGED])


def _accrued_by_hour(site: Site, costs: Costs, since: datetime, at: datetime) -> Decimal | None:
    """Price losses by the hours they ran through; None where more stretches differ than a page may price."""
    ran: Any = (
        _counted(site, since, at)
        .filter(system_id__in=list(costs.per_m3))
        .annotate(
            first=Greatest(F("started_at"), Value(since, output_field=DateTimeField())),
            last=Least(Coalesce(F("ended_at"), Value(at)), Value(at, output_field=DateTimeField())),
        )
        .values("system_id", "first", "last")
        .annotate(rate=Sum("leak_rate_m3_per_s"))
        .order_by()[: MOST_STRETCHES + 1]
    )
    rows = list(ran)
    if len(rows) > MOST_STRETCHES:
        return None
    try:
        amounts = (
            amount_at_rate(
                row["rate"] or Decimal(0), str(row["system_id"]), row["first"], row["last"], costs.prices
            )
            for row in rows
        )
        return to_decimal(sum((amount.cost for amount in amounts), Fraction(0)))
    except PriceGapError:
        return None


def _marks(costs: Costs, since: datetime, at: datetime) -> list[datetime] | None:
    """Cut the time at every change of a price of any system; None when that is too often."""
    marks = {since, at}
    for system_id in costs.per_m3:
        try:
            for piece in costs.prices.pieces(str(system_id), since, at):
                marks |= {piece.start, piece.end}
        except PriceGapError:
            return None
    return sorted(marks) if len(marks) <= MOST_PIECES else None


def _volume(start: datetime, end: datetime) -> Combinable:
    """Return the m³ lost between two moments as a sum: rate × seconds of overlap."""
    first = Greatest(F("started_at"), Value(start, output_field=DateTimeField()))
    last = Least(Coalesce(F("ended_at"), Value(end)), Value(end, output_field=DateTimeField()))
    overlaps = Q(started_at__lt=end) & (Q(ended_at__isnull=True) | Q(ended_at__gt=start))
    return Sum(F("leak_rate_m3_per_s") * _Seconds(last - first), filter=overlaps, output_field=_MONEY)


def _accrued(costs: Costs, row: Mapping[str, Any], marks: list[datetime]) -> Fraction:
    total = Fraction(0)
    for index, (start, _) in enumerate(pairwise(marks)):
        volume = row[f"m3_{index}"]
        if volume:
            total += Fraction(volume) * costs.prices.cost_per_m3_at(str(row["system_id"]), start)
    return total
