"""Compressed-air supply: least work, specific energy, whole-system leakage.

Specific energy is J per m3 of inlet air at the reference state; works are J per m3 of inlet air.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from findings.physics.estimate import Reason
from findings.physics.quantities import convert

HIGHEST_KW_PER_100_CFM = 40.0
DOE_HALF_PRESSURE_FACTOR = 1.25
"""Takes the mean decay flow to normal pressure when the pressure halves (DOE sourcebook, from memory)."""


def isothermal_work_j_per_m3(inlet_pa: float, outlet_pa: float) -> float:
    """Return the least work of any compression: p1 ln(p2/p1), pressures absolute."""
    return inlet_pa * math.log(outlet_pa / inlet_pa)


def adiabatic_work_j_per_m3(inlet_pa: float, outlet_pa: float, *, k: float = 1.4, stages: int = 1) -> float:
    """Return the work of a compression without heat loss, intercooled between equal stages.

    With a polytropic exponent for k it is the polytropic work. Pressures absolute. Checked against
    Machinery's Handbook, 31st edition, tables 35 to 38.
    """
    exponent = (k - 1.0) / (k * stages)
    return stages * k / (k - 1.0) * inlet_pa * math.expm1(exponent * math.log(outlet_pa / inlet_pa))


def from_kw_per_m3_per_min(specific_power: float) -> float:
    """Return the specific energy in J/m3 of a specific power in kW per m3/min."""
    return convert(specific_power, "kW/(m3/min)", "J/m3")


def from_kw_per_100_cfm(specific_power: float) -> float:
    """Return the specific energy in J/m3 of a specific power in kW per 100 cfm."""
    return convert(specific_power, "kW/100 cfm", "J/m3")


def specific_energy_j_per_m3(power_w: float, flow_m3_per_s: float) -> float:
    """Return the specific energy of a machine that takes a power in W for a flow in m3/s."""
    return power_w / flow_m3_per_s


def problems_of_specific_energy(
    energy_j_per_m3: float, *, inlet_pa: float, outlet_pa: float
) -> tuple[Reason, ...]:
    """Return why a stated value can't be a compressor's: below isothermal or above 40 kW/100 cfm."""
    if not math.isfinite(energy_j_per_m3):
        return (Reason("not_finite", "The specific power isn't a finite number."),)
    if not 0.0 < inlet_pa < outlet_pa:
        return (Reason("no_pressure_difference", "The outlet pressure isn't above the inlet pressure."),)
    if energy_j_per_m3 < isothermal_work_j_per_m3(inlet_pa, outlet_pa):
        text = "The stated specific power is below the isothermal least work; no machine can do that."
        return (Reason("below_isothermal", text),)
    if energy_j_per_m3 > from_kw_per_100_cfm(HIGHEST_KW_PER_100_CFM):
        text = "The stated specific power is above 40 kW per 100 cfm; check its unit."
        return (Reason("specific_power_too_high", text),)
    return ()


def leak_share(load_s: float, unload_s: float) -> float:
    """Return the leak's share of the capacity from load and unload times without any demand.

    Not valid for modulating or variable-speed machines. Source: DOE compressed-air sourcebook.
    """
    return load_s / (load_s + unload_s)


def decay_flow_mean_m3_per_s(
    volume_m3: float, start_pa: float, end_pa: float, duration_s: float, *, atmosphere_pa: float
) -> float:
    """Return the mean free-air loss while a closed volume falls from start to end, at its own temperature."""
    return volume_m3 * (start_pa - end_pa) / (atmosphere_pa * duration_s)


def decay_flow_at_start_m3_per_s(
    volume_m3: float, start_pa: float, end_pa: float, duration_s: float, *, atmosphere_pa: float
) -> float:
    """Return the free-air loss at the start pressure while all holes stay choked.

    V p_a ln(p_a/p_b)/(p_atm t) with absolute pressures: a choked leak falls in proportion to them.
    """
    return volume_m3 * start_pa * math.log(start_pa / end_pa) / (atmosphere_pa * duration_s)


class Line(NamedTuple):
    """A straight line y = slope x + intercept."""

    slope: float
    intercept: float

    def at(self, x: float) -> float:
        """Return y at x."""
        return self.slope * x + self.intercept


def loss_line(pressures: Sequence[float], losses: Sequence[float]) -> Line:
    """Return the least-squares line of losses over mean pressures of several decay intervals.

    At least two different pressures, else ValueError. Source: NAVFAC MO-209, chapter 5.
    """
    mean_x, mean_y = math.fsum(pressures) / len(pressures), math.fsum(losses) / len(losses)
    spread = math.fsum((x - mean_x) ** 2 for x in pressures)
    if spread == 0.0:
        msg = "a line needs two different pressures"
        raise ValueError(msg)
    slope = math.fsum((x - mean_x) * (y - mean_y) for x, y in zip(pressures, losses, strict=True)) / spread
    return Line(slope, mean_y - slope * mean_x)


def least_package_efficiency_fixed_speed(flow_m3_per_s: float, *, liquid_cooled: bool = False) -> float:
    """Return the least isentropic package efficiency of new fixed-speed machines in the United States.

    Flow at full load in m3/s. Source: 10 CFR 431.345 table 1.
    """
    log = math.log(flow_m3_per_s * 1000.0)
    regression = -0.00928 * log * log + 0.13911 * log + 0.27110 + (0.02349 if liquid_cooled else 0.0)
    return regression - (1.0 - regression) * 0.15
