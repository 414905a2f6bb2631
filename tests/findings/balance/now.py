"""A system of one machine and a few leaks, made of plain numbers."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

from findings.balance.rules import Measured, OpenLeak, SystemNow
from findings.kinds.base import Medium
from findings.physics.uncertainty import Uncertain
from findings.supply.rules import InForce, Quantity, station_of

AT = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
BAR = 100_000.0


@dataclass(frozen=True)
class Row:
    """A machine of 0.1 m3/s and 36 kW that loads and unloads on ample storage: 360 kJ/m3 at full load."""

    code: str = "C-1"
    control: str = "load_unload"
    rated_flow_m3_per_s: float = 0.1
    rated_power_w: float = 36_000.0
    unloaded_share: float | None = 0.25
    least_share: float | None = None
    load_order: int | None = 1
    part_load_points: list[list[float]] = field(default_factory=list)


def leak(flow: float, u: float = 0.0, *, shared: float = 0.0, **values: Any) -> OpenLeak:
    """Return a finding that loses so many m3/s."""
    given: dict[str, Any] = {
        "finding_id": uuid4(),
        "number": 1,
        "asset_id": UUID(int=1),
        "asset_code": "WR-1",
        "area_id": UUID(int=2),
        **values,
    }
    return OpenLeak(flow=Uncertain(flow, u), shared_relative_u=shared, **given)


def measured(flow: float, u: float = 0.0, gauge: float = 6 * BAR, taken_at: datetime = AT) -> Measured:
    """Return a leak test."""
    return Measured(Uncertain(flow, u), gauge, taken_at)


def known(**values: str | None) -> dict[Quantity, InForce]:
    """Return 0.20 per kWh, 360 kJ/m3 and a demand of 0.05 m3/s, all the time under pressure."""
    given = {
        "electricity_price_per_kwh": "0.20",
        "specific_energy_j_per_m3": "360000",
        "grid_factor_kg_per_kwh": "0.40",
        "mean_demand_m3_per_s": "0.05",
        **values,
    }
    return {
        Quantity(name): InForce(Quantity(name), Decimal(value), "", AT, "station log", 2026)
        for name, value in given.items()
        if value is not None
    }


def system(*leaks: OpenLeak, rows: tuple[Row, ...] = (Row(),), **values: Any) -> SystemNow:
    """Return compressed air at 6 bar gauge over an atmosphere of 1 bar."""
    given: dict[str, Any] = {
        "medium": Medium.COMPRESSED_AIR,
        "gas_name": "",
        "currency": "EUR",
        "header_gauge_pa": 6 * BAR,
        "atmosphere_pa": BAR,
        "known": known(),
        "station": station_of(rows, storage_m3=None, atmosphere_pa=BAR),
        **values,
    }
    return SystemNow(leaks=leaks, **given)
