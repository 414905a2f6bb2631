"""Read what feeds the plant, and which price or factor was in force when."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import date, datetime

from django.db import connection
from django.db.models import F, Q, QuerySet

from findings.kinds.base import Medium
from findings.plant.models import Site
from findings.plant.rules import local_day
from findings.supply.models import Compressor, Connection, DatedValue, LeakTest, SupplySystem, TariffTable
from findings.supply.rules import (
    InForce,
    Known,
    Quantity,
    Station,
    price_of_table,
    station_of,
    stored_table,
)

Place = tuple[uuid.UUID, uuid.UUID | None]

_FEEDING = """
WITH RECURSIVE line(id, parent_id, steps) AS (
    SELECT id, parent_id, 0 FROM findings_asset WHERE id = %s
    UNION ALL
    SELECT above.id, above.parent_id, line.steps + 1
    FROM findings_asset above JOIN line ON above.id = line.parent_id
    WHERE line.steps < 100
)
SELECT system.id
FROM line
JOIN findings_connection fed ON fed.asset_id = line.id
JOIN findings_supplysystem system ON system.id = fed.system_id
WHERE system.medium = %s
ORDER BY line.steps, fed.id
LIMIT 1
"""


def systems() -> QuerySet[SupplySystem]:
    """Return all supply systems, with their sites."""
    return SupplySystem.objects.select_related("site")


def compressors() -> QuerySet[Compressor]:
    """Return all compressors, retired ones too."""
    return Compressor.objects.all()


def connections() -> QuerySet[Connection]:
    """Return which system feeds which asset."""
    return Connection.objects.select_related("system", "asset")


def dated_values() -> QuerySet[DatedValue]:
    """Return all dated values, void ones too."""
    return DatedValue.objects.all()


def tariff_tables() -> QuerySet[TariffTable]:
    """Return all time-of-use tables, void ones too."""
    return TariffTable.objects.all()


def leak_tests() -> QuerySet[LeakTest]:
    """Return all leak tests, void ones too."""
    return LeakTest.objects.all()


def latest_leak_test(system_id: uuid.UUID, at: datetime) -> LeakTest | None:
    """Return the last test that was taken by a moment and holds, as it is known now."""
    rows = leak_tests().filter(system_id=system_id, void_at__isnull=True, taken_at__lte=at)
    return rows.order_by("-taken_at", "-recorded_at", "-id").first()


def stations(systems: Collection[tuple[SupplySystem, Site]], at: datetime) -> dict[uuid.UUID, Station]:
    """Return the machines in use on the site's day, by system, in load order (one query).

    A machine without a place in the order stands behind the others.
    """
    rows = Compressor.objects.filter(system_id__in={system.pk for system, _ in systems})
    found: dict[uuid.UUID, list[Compressor]] = defaultdict(list)
    for machine in rows.order_by(F("load_order").asc(nulls_last=True), "code"):
        found[machine.system_id].append(machine)
    return {
        system.pk: station_of(
            [one for one in found[system.pk] if _in_use(one, local_day(at, site.time_zone))],
            storage_m3=system.storage_m3,
            atmosphere_pa=site.atmosphere_pa,
        )
        for system, site in systems
    }


def _in_use(machine: Compressor, day: date) -> bool:
    begun = machine.commissioned_on is None or machine.commissioned_on <= day
    return begun and (machine.retired_on is None or machine.retired_on > day)


def known_at(site_ids: Collection[uuid.UUID], at: datetime) -> dict[Place, dict[Quantity, InForce]]:
    """Return the prices and factors in force at a moment, by site and system (None: the whole site).

    Where a time-of-use table is the newer price of electricity, it stands with its mean of the coming year.
    """
    rows = DatedValue.objects.filter(site_id__in=site_ids, void_at__isnull=True, from_at__lte=at)
    newest = rows.order_by("site_id", "system_id", "quantity", "-from_at")
    found: dict[Place, dict[Quantity, InForce]] = defaultdict(dict)
    for row in newest.distinct("site_id", "system_id", "quantity"):
        quantity = Quantity(row.quantity)
        found[row.site_id, row.system_id][quantity] = InForce(
            quantity, row.value, row.currency, row.from_at, row.source, row.source_year
        )
    for table in _tables_in_force(site_ids, at):
        of_site = found[table.site_id, None]
        flat = of_site.get(Quantity.ELECTRICITY_PRICE_PER_KWH)
        if flat is None or flat.from_at <= table.from_at:
            of_site[Quantity.ELECTRICITY_PRICE_PER_KWH] = _as_price(table, at)
    return found


def _tables_in_force(site_ids: Collection[uuid.UUID], at: datetime) -> QuerySet[TariffTable]:
    rows = tariff_tables().filter(site_id__in=site_ids, void_at__isnull=True, from_at__lte=at)
    return rows.select_related("site").order_by("site_id", "-from_at").distinct("site_id")


def _as_price(table: TariffTable, at: datetime) -> InForce:
    return price_of_table(
        stored_table(table.bands, table.holidays),
        at,
        time_zone=table.site.time_zone,
        currency=table.currency,
        from_at=table.from_at,
        source=table.source,
    )


def price_in_force(site_id: uuid.UUID, at: datetime) -> InForce | None:
    """Return the price of electricity that a cost is counted at: flat, or a table's mean with its parts."""
    return known_at([site_id], at)[site_id, None].get(Quantity.ELECTRICITY_PRICE_PER_KWH)


def known_of(system: SupplySystem, found: Mapping[Place, Known]) -> dict[Quantity, InForce]:
    """Return what holds for a system: its own values and those of its whole site."""
    return {**found.get((system.site_id, None), {}), **found.get((system.site_id, system.pk), {})}


def system_feeding(asset_id: uuid.UUID, medium: Medium | str) -> SupplySystem | None:
    """Return the system that feeds an asset with a medium: its own connection, else the nearest above."""
    with connection.cursor() as cursor:
        cursor.execute(_FEEDING, [asset_id, str(medium)])
        row = cursor.fetchone()
    return systems().get(pk=row[0]) if row else None


def value_in_force(
    site_id: uuid.UUID, quantity: Quantity | str, at: datetime, system_id: uuid.UUID | None = None
) -> DatedValue | None:
    """Return the dated value that holds at a moment, as it is known now; None before the first.

    Electricity may be priced by a table instead: ask ``price_in_force`` for it.
    """
    rows = _of(site_id, quantity, system_id).filter(void_at__isnull=True, from_at__lte=at)
    return rows.order_by("-from_at").first()


def series(
    site_id: uuid.UUID,
    quantity: Quantity | str,
    system_id: uuid.UUID | None = None,
    as_of: datetime | None = None,
) -> list[DatedValue]:
    """Return the values of a quantity from the first on, as they are known now or were known ``as_of``."""
    rows = _of(site_id, quantity, system_id)
    if as_of is None:
        rows = rows.filter(void_at__isnull=True)
    else:
        rows = rows.filter(recorded_at__lte=as_of).filter(Q(void_at__isnull=True) | Q(void_at__gt=as_of))
    return list(rows.order_by("from_at", "id"))


def _of(site_id: uuid.UUID, quantity: Quantity | str, system_id: uuid.UUID | None) -> QuerySet[DatedValue]:
    rows = DatedValue.objects.filter(site_id=site_id, quantity=str(quantity))
    return rows.filter(system__isnull=True) if system_id is None else rows.filter(system_id=system_id)
