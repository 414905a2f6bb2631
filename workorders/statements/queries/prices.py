"""What a cubic metre cost when: the dated values of sites and their supply systems as series."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from decimal import Decimal
from functools import partial
from typing import Final

from django.db.models import Q

from findings.kinds.base import Medium
from findings.kinds.pricing import energy_per_m3, price_by_mass, price_by_volume
from findings.plant.models import Site
from findings.supply.models import DatedValue, SupplySystem
from findings.supply.queries import supply_state
from findings.supply.rules import Quantity
from workorders.statements.rules import DatedValue as Known
from workorders.statements.rules import PriceSeries, SystemSeries

MADE_HERE: Final = frozenset({Medium.COMPRESSED_AIR, Medium.VACUUM})
"""Media that the plant makes from electricity: what lacks, when nothing is stated, is the specific energy."""

_Values = Mapping[str, tuple[Known, ...]]


def price_series(sites: Iterable[Site], as_of: datetime) -> dict[uuid.UUID, PriceSeries]:
    """Return the prices of sites as they were known at a moment (two queries, however many sites).

    Every price is turned into one per m³ at 1 bar, 20 °C, dry, as a finding's own cost is.
    """
    sites = list(sites)
    values = _values([site.pk for site in sites], as_of)
    systems: dict[uuid.UUID, list[SupplySystem]] = defaultdict(list)
    for system in SupplySystem.objects.filter(site__in=sites).select_related("site").order_by("id"):
        systems[system.site_id].append(system)
    return {
        site.pk: PriceSeries(
            site.currency,
            values[site.pk, None].get(Quantity.ELECTRICITY_PRICE_PER_KWH, ()),
            {str(system.pk): _series(system, values[site.pk, system.pk]) for system in systems[site.pk]},
            values[site.pk, None].get(Quantity.GRID_FACTOR_KG_PER_KWH, ()),
        )
        for site in sites
    }


def _values(
    site_ids: list[uuid.UUID], as_of: datetime
) -> dict[tuple[uuid.UUID, uuid.UUID | None], dict[str, tuple[Known, ...]]]:
    rows = DatedValue.objects.filter(
        Q(void_at__isnull=True) | Q(void_at__gt=as_of), site_id__in=site_ids, recorded_at__lte=as_of
    ).order_by("from_at", "id")
    found: dict[tuple[uuid.UUID, uuid.UUID | None], dict[str, tuple[Known, ...]]] = defaultdict(dict)
    for row in rows:
        of_place = found[row.site_id, row.system_id]
        known = Known(row.value, row.from_at, row.recorded_at, row.void_at)
        of_place[row.quantity] = (*of_place.get(row.quantity, ()), known)
    return found


def _series(system: SupplySystem, values: _Values) -> SystemSeries:
    supply = supply_state(system, system.site.atmosphere_pa)
    energy = _each(values, Quantity.SPECIFIC_ENERGY_J_PER_M3, partial(energy_per_m3, supply))
    gas = _each(values, Quantity.GAS_PRICE_PER_M3, partial(price_by_volume, supply.medium))
    if gas is None:
        by_mass = partial(price_by_mass, supply.medium, supply.gas_name)
        gas = _each(values, Quantity.GAS_PRICE_PER_KG, by_mass)
        if gas is None and Quantity.GAS_PRICE_PER_KG in values:
            gas = ()  # a price per kg of a gas without data is a gap, not a cost of nothing
    if energy is None and gas is None:
        # An empty series is a gap that names what lacks; no series at all would be no part of the cost.
        energy, gas = ((), None) if system.medium in MADE_HERE else (None, ())
    return SystemSeries(f"{system.code} {system.name}", energy, gas, values.get(Quantity.PRESSURISED_SHARE))


def _each(
    values: _Values, quantity: Quantity, per_m3: Callable[[Decimal], Decimal | None]
) -> tuple[Known, ...] | None:
    """Return the values of a quantity as they price a lost m³; None where none does."""
    priced = [
        Known(price, one.from_at, one.recorded_at, one.void_at)
        for one in values.get(quantity, ())
        if (price := per_m3(one.value)) is not None
    ]
    return tuple(priced) or None
