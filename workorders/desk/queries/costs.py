"""What a lost cubic metre costs now, per supply system, so that a list of findings needs no query each."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from django.db.models import Case, Count, DecimalField, F, Q, Sum, Value, When
from django.db.models.expressions import Combinable
from django.db.models.functions import Coalesce

from findings.kinds.base import Medium
from findings.losses.models import LossSegment
from findings.plant.models import Site
from findings.supply.models import DatedValue, SupplySystem
from findings.supply.rules import Quantity
from workorders.orders.rules import gas_price_per_m3
from workorders.statements.rules import to_decimal
from workorders.statements.rules.series import DatedValue as Known
from workorders.statements.rules.series import KnownPrices, PriceGapError, PriceSeries, SystemSeries

UNPRICED = Decimal(-1)
"""Sorts behind every known cost."""

SECONDS_PER_HOUR = Decimal(3600)
_MONEY = DecimalField(max_digits=40, decimal_places=20)


@dataclass(frozen=True, slots=True)
class Costs:
    """Cost per m³ lost (1 bar, 20 °C, dry) at a moment, for the systems whose price is known."""

    currency: str
    per_m3: Mapping[uuid.UUID, Decimal] = field(default_factory=dict)

    def per_hour(self, system_id: uuid.UUID | None, rate_m3_per_s: Decimal | None) -> Decimal | None:
        """Return what a rate costs per hour; None where rate or price is not known."""
        if system_id is None or rate_m3_per_s is None or system_id not in self.per_m3:
            return None
        return rate_m3_per_s * self.per_m3[system_id] * SECONDS_PER_HOUR

    def column(self, rate: str = "leak_rate_m3_per_s", losing: Q | None = None) -> Combinable:
        """Return the same as a column of a query; UNPRICED where it is not known or nothing is lost now."""
        losing = Q() if losing is None else losing
        cases = [
            When(losing & Q(system_id=system_id), then=F(rate) * Value(_cut(price * SECONDS_PER_HOUR)))
            for system_id, price in self.per_m3.items()
        ]
        nothing = Value(UNPRICED, output_field=_MONEY)
        return Coalesce(Case(*cases, default=nothing, output_field=_MONEY), nothing, output_field=_MONEY)


def _cut(value: Decimal) -> Decimal:
    """Keep 20 decimals, more than any price has: a column needs a bounded number."""
    return value.quantize(Decimal("1e-20"))


def costs_at(site: Site, at: datetime) -> Costs:
    """Return the site's costs per m³ at a moment, from its dated values (one query)."""
    rows = DatedValue.objects.filter(
        Q(void_at__isnull=True), site=site, from_at__lte=at, recorded_at__lte=at
    ).select_related("system")
    site_wide: dict[str, list[Known]] = defaultdict(list)
    by_system: dict[uuid.UUID, dict[str, list[Known]]] = defaultdict(lambda: defaultdict(list))
    systems: dict[uuid.UUID, SupplySystem] = {}
    for row in rows:
        known = Known(row.value, row.from_at, row.recorded_at)
        if row.system is None:
            site_wide[row.quantity].append(known)
        else:
            by_system[row.system.pk][row.quantity].append(known)
            systems[row.system.pk] = row.system
    series = {str(pk): _series(systems[pk], site_wide, own) for pk, own in by_system.items()}
    electricity = tuple(site_wide[Quantity.ELECTRICITY_PRICE_PER_KWH])
    prices = PriceSeries(site.currency, electricity, series).known(at)
    return Costs(site.currency, dict(_priced(prices, by_system, at)))


def _priced(
    prices: KnownPrices, systems: Mapping[uuid.UUID, object], at: datetime
) -> Iterator[tuple[uuid.UUID, Decimal]]:
    for pk in systems:
        try:
            yield pk, to_decimal(prices.cost_per_m3_at(str(pk), at))
        except PriceGapError:
            continue


def _series(
    system: SupplySystem, site_wide: Mapping[str, list[Known]], own: Mapping[str, list[Known]]
) -> SystemSeries:
    def values(quantity: Quantity) -> tuple[Known, ...] | None:
        found = own.get(quantity) or site_wide.get(quantity)
        return tuple(found) if found else None

    per_m3 = values(Quantity.GAS_PRICE_PER_M3)
    per_kg = values(Quantity.GAS_PRICE_PER_KG)
    if per_m3 is None and per_kg is not None:
        per_m3 = _of_mass(system, per_kg)
    return SystemSeries(
        system.code,
        values(Quantity.SPECIFIC_ENERGY_J_PER_M3),
        per_m3,
        values(Quantity.PRESSURISED_SHARE),
    )


def _of_mass(system: SupplySystem, per_kg: tuple[Known, ...]) -> tuple[Known, ...] | None:
    """Turn prices per kg into prices per m³; None where the gas has no data."""
    priced = [
        Known(price, one.from_at, one.recorded_at)
        for one in per_kg
        if (price := gas_price_per_m3(Medium(system.medium), system.gas_name, one.value)) is not None
    ]
    return tuple(priced) or None


@dataclass(frozen=True, slots=True)
class LossNow:
    """What a site loses at a moment: its rate, its cost, and how many losses could not be priced."""

    rate_m3_per_s: Decimal
    cost_per_hour: Decimal
    priced: int
    unpriced: int


def loss_now(site: Site, costs: Costs) -> LossNow:
    """Sum the losses that run now (one query)."""
    rows = (
        LossSegment.objects.filter(site=site, ended_at__isnull=True, void_at__isnull=True)
        .values("system_id")
        .annotate(rate=Sum("leak_rate_m3_per_s"), number=Count("id"))
        .values_list("system_id", "rate", "number")
    )
    rate, cost, priced, unpriced = Decimal(0), Decimal(0), 0, 0
    for system_id, of_system, number in rows:
        rate += of_system
        per_hour = costs.per_hour(system_id, of_system)
        cost += per_hour or 0
        priced, unpriced = (
            (priced + number, unpriced) if per_hour is not None else (priced, unpriced + number)
        )
    return LossNow(rate, cost, priced, unpriced)
