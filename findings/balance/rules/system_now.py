"""What is known of one supply system at a moment: leaks, measured leakage, machines and prices."""

import math
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final, NamedTuple

from findings.kinds.base import Medium
from findings.kinds.pricing import SupplyState, energy_per_m3
from findings.physics.estimate import Reason
from findings.physics.header_pressure import HeaderChange
from findings.physics.leak_balance import Leak, sum_of
from findings.physics.reference_states import DEFAULT_STATE
from findings.physics.uncertainty import COVERAGE_95, Uncertain
from findings.supply.rules import Known, Quantity, Station, numbers

HOURS_PER_YEAR: Final = 8760.0
NOTABLE_PRESSURE: Final = 0.01
"""Part of the absolute pressure from which on a test at another pressure is scaled."""
ORIFICE: Final = "orifice"
STATED: Final = "stated"


@dataclass(frozen=True, slots=True)
class OpenLeak:
    """A finding that loses at the moment: its flow (m3/s at 1 bar, 20 °C, dry) and where it stands.

    ``shared_relative_u`` is the part of its relative uncertainty that other findings have in common with it.
    """

    finding_id: uuid.UUID
    number: int
    asset_id: uuid.UUID
    asset_code: str
    area_id: uuid.UUID
    flow: Uncertain
    shared_relative_u: float = 0.0
    is_safety: bool = False

    def leak(self) -> Leak:
        """Return the finding as the balance takes it."""
        return Leak(self.flow, self.shared_relative_u)


class Measured(NamedTuple):
    """The whole leakage by the last test: flow in m3/s at 1 bar, 20 °C, dry, and the gauge pressure then."""

    flow: Uncertain
    pressure_gauge_pa: float
    taken_at: datetime


@dataclass(frozen=True, slots=True)
class SystemNow:
    """One system at a moment; ``without_flow`` counts its open findings of which no rate is known."""

    medium: Medium
    gas_name: str
    currency: str
    header_gauge_pa: float
    atmosphere_pa: float
    known: Known
    station: Station
    leaks: tuple[OpenLeak, ...] = ()
    without_flow: int = 0
    measured: Measured | None = None
    temperature_k: float = DEFAULT_STATE.temperature_k

    @property
    def supply(self) -> SupplyState:
        """Return what prices need to know of the system."""
        absolute_pa = self.header_gauge_pa + self.atmosphere_pa
        return SupplyState(self.medium, self.gas_name, absolute_pa, self.temperature_k)

    @property
    def energy_j_per_m3(self) -> Decimal | None:
        """Return what a lost m3 at 1 bar, 20 °C takes at full load; None where none is in force."""
        stated = self.known.get(Quantity.SPECIFIC_ENERGY_J_PER_M3)
        return None if stated is None else energy_per_m3(self.supply, stated.value)

    @property
    def values(self) -> dict[Quantity, Decimal]:
        """Return the prices and factors in force."""
        return numbers(self.known)

    @property
    def demand_m3_per_s(self) -> float | None:
        """Return the mean demand, None where it isn't recorded."""
        demand = self.known.get(Quantity.MEAN_DEMAND_M3_PER_S)
        return None if demand is None else float(demand.value)

    @property
    def hours_per_year(self) -> float:
        """Return the hours a year under pressure."""
        share = self.known.get(Quantity.PRESSURISED_SHARE)
        return HOURS_PER_YEAR * (1.0 if share is None else float(share.value))

    def found(self) -> Uncertain:
        """Return the sum of the findings' flows."""
        return sum_of([leak.leak() for leak in self.leaks])

    def total(self) -> tuple[Uncertain, tuple[Reason, ...]] | None:
        """Return the measured leakage at header pressure, with what was done to it; None without a test."""
        if self.measured is None:
            return None
        flow, gauge, taken_at = self.measured
        then, header = gauge + self.atmosphere_pa, self.header_gauge_pa + self.atmosphere_pa
        if abs(header / then - 1.0) <= NOTABLE_PRESSURE:
            return flow, ()
        factor = HeaderChange(gauge, self.header_gauge_pa, self.atmosphere_pa).leak_factor()
        text = (
            f"The test of {taken_at:%Y-%m-%d} was made at {gauge / 1e5:.2f} bar gauge; it is scaled to the "
            f"header's {self.header_gauge_pa / 1e5:.2f} bar as flow through holes."
        )
        scaled = Uncertain(flow.value * factor, flow.u * factor)
        return scaled, (Reason("scaled_to_header", text),)


def spread_of(value: float, low: float | None, high: float | None) -> float:
    """Return the standard u behind a 95 % interval, by its upper half: the lower may be cut at 0."""
    if high is not None and high > value:
        return (high - value) / COVERAGE_95
    return 0.0 if low is None else (value - low) / COVERAGE_95


def shared_part(method: str, inputs: Mapping[str, Any], flow: Uncertain) -> float:
    """Return the part of a finding's relative uncertainty that it has in common with others (judgement).

    Through a hole: the convention of the discharge coefficient, and pressure and temperature where they are
    the system's and not the reading's; the size of the hole is its own. A stated flow shares its whole
    uncertainty, since whoever stated it stated the others too. What was measured by itself shares nothing.
    """
    if not flow.value > 0.0:
        return 0.0
    whole = flow.relative
    if method == STATED:
        return whole
    if method != ORIFICE:
        return 0.0
    parts = [_relative(inputs, "discharge_coefficient", "discharge_coefficient_u")]
    if inputs.get("pressure_from") == "system":
        parts.append(_relative(inputs, "upstream_absolute_pa", "upstream_u_pa"))
    if inputs.get("temperature_from") == "system":
        parts.append(_relative(inputs, "temperature_k", "temperature_u_k") / 2.0)
    return min(math.hypot(*parts), whole)


def _relative(inputs: Mapping[str, Any], value: str, spread: str) -> float:
    mean, u = inputs.get(value), inputs.get(spread)
    return 0.0 if not mean or u is None else abs(float(u) / float(mean))
