"""Read what feeds the plant, and which price or factor was in force when."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import connection
from django.db.models import Q, QuerySet

from findings.kinds.base import Medium
from findings.kinds.pricing import SupplyState
from findings.supply.models import Compressor, Connection, DatedValue, SupplySystem
from findings.supply.rules import Quantity

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


def supply_state(system: SupplySystem, atmosphere_pa: float) -> SupplyState:
    """Return what prices need to know of a system at a site of this atmosphere (Pa)."""
    return SupplyState(
        medium=Medium(system.medium),
        gas_name=system.gas_name,
        absolute_pa=atmosphere_pa + system.pressure_gauge_pa,
        temperature_k=system.temperature_k,
    )


def compressors() -> QuerySet[Compressor]:
    """Return all compressors, retired ones too."""
    return Compressor.objects.all()


def connections() -> QuerySet[Connection]:
    """Return which system feeds which asset."""
    return Connection.objects.select_related("system", "asset")


def dated_values() -> QuerySet[DatedValue]:
    """Return all dated values, void ones too."""
    return DatedValue.objects.all()


def system_feeding(asset_id: uuid.UUID, medium: Medium | str) -> SupplySystem | None:
    """Return the system that feeds an asset with a medium: its own connection, else the nearest above."""
    with connection.cursor() as cursor:
        cursor.execute(_FEEDING, [asset_id, str(medium)])
        row = cursor.fetchone()
    return systems().get(pk=row[0]) if row else None


def value_in_force(
    site_id: uuid.UUID, quantity: Quantity | str, at: datetime, system_id: uuid.UUID | None = None
) -> DatedValue | None:
    """Return the value that holds at a moment, as it is known now; None before the first."""
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
