"""What a cubic metre cost when: the dated values of sites and their supply systems as series."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Final

from django.db.models import Q

from findings.kinds.base import Medium
from findings.plant.models import Site
from findings.supply.models import DatedValue, SupplySystem, TariffTable
from findings.supply.rules import Quantity, stored_table
from workorders.orders.rules import gas_price_per_m3
from workorders.statements.rules import DatedTable, PriceSeries, SystemSeries
from workorders.statements.rules import DatedValue as Known

MADE_HERE: Final = frozenset({Medium.COMPRESSED_AIR, Medium.VACUUM})
"""Media that the plant makes from electricity: what lacks, when nothing is stated, is the specific energy."""

_Values = Mapping[str, tuple[Known, ...]]


def price_series(sites: Iterable[Site], as_of: datetime) -> dict[uuid.UUID, PriceSeries]:
    """Return the prices of sites as they were known at a moment (three queries, however many sites).

    Gas sold by mass is turned into a price per m³ at 1 bar, 20 °C, dry.
    """
    sites = list(sites)
    values = _values([site.pk for site in sites], as_of)
    tables = _tables(sites, as_of)
    systems: dict[uuid.UUID, list[SupplySystem]] = defaultdict(list)
    for system in SupplySystem.objects.filter(site__in=sites).order_by("id"):
        systems[system.site_id].append(system)
    return {
        site.pk: PriceSeries(
            site.currency,
            values[site.pk, None].get(Quantity.ELECTRICITY_PRICE_PER_KWH, ()),
            {str(system.pk): _series(system, values[site.pk, system.pk]) for system in systems[site.pk]},
            values[site.pk, None].get(Quantity.GRID_FACTOR_KG_PER_KWH, ()),
            tables[site.pk],
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


def _tables(sites: list[Site], as_of: datetime) -> dict[uuid.UUID, tuple[DatedTable, ...]]:
    zones = {site.pk: site.time_zone for site in sites}
    rows = TariffTable.objects.filter(
        Q(void_at__isnull=True) | Q(void_at__gt=as_of), site__in=sites, recorded_at__lte=as_of
    ).order_by("from_at", "id")
    found: dict[uuid.UUID, tuple[DatedTable, ...]] = defaultdict(tuple)
    for row in rows:
        table = stored_table(row.bands, row.holidays)
        known = DatedTable(table, zones[row.site_id], row.from_at, row.recorded_at, row.void_at)
        found[row.site_id] = (*found[row.site_id], known)
    return found


def _series(system: SupplySystem, values: _Values) -> SystemSeries:
    energy = values.get(Quantity.SPECIFIC_ENERGY_J_PER_M3)
    gas = values.get(Quantity.GAS_PRICE_PER_M3) or _of_mass(system, values)
    if energy is None and gas is None:
        # An empty series is a gap that names what lacks; no series at all would be no part of the cost.
        energy, gas = ((), None) if system.medium in MADE_HERE else (None, ())
    return SystemSeries(f"{system.code} {system.name}", energy, gas, values.get(Quantity.PRESSURISED_SHARE))


def _of_mass(system: SupplySystem, values: _Values) -> tuple[Known, ...] | None:
    priced = [
        Known(price, one.from_at, one.recorded_at, one.void_at)
        for one in values.get(Quantity.GAS_PRICE_PER_KG, ())
        if (price := gas_price_per_m3(Medium(system.medium), system.gas_name, one.value)) is not None
    ]
    return tuple(priced) or None
