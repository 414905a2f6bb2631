"""A machine and the values in force, made of plain numbers."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from decimal import Decimal

from findings.supply.rules import InForce, Quantity

AT = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


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
