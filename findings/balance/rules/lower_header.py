"""What if the header pressure were lowered: the system's own leaks, demand and machines."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from findings.balance.rules.system_now import SystemNow
from findings.balance.rules.yearly import Yearly, factor_of, saving_of, yearly_of
from findings.kinds.base import Medium
from findings.physics.estimate import Reason, refused
from findings.physics.header_pressure import (
    METHOD,
    VERSION,
    HeaderChange,
    HeaderSaving,
    PointOfUse,
    Supply,
    lower_header,
)
from findings.physics.marginal_saving import group_power_w
from findings.physics.part_load import CurveRefused
from findings.physics.uncertainty import Uncertain

SUPPLY_RELATIVE_U: Final = 0.05
"""Of the mean demand, and of the power that the machines' curves give for it (judgement)."""
ONLY_AIR: Final = Reason(
    "only_compressed_air", "A lower header pressure is worked out for compressed air only."
)


@dataclass(frozen=True, slots=True)
class LowerHeader:
    """The saving of a lower header pressure in W and money a year, and the leak flow that it stands on."""

    saving: HeaderSaving
    yearly: Yearly
    leakage: Uncertain | None = None
    reasons: tuple[Reason, ...] = ()


def lower_pressure(
    now: SystemNow, after_gauge_pa: float, points: Sequence[PointOfUse] = (), *, stages: int = 1
) -> LowerHeader:
    """Return what the system would save at a lower header pressure (Pa gauge).

    What falls with the pressure are its leaks: the measured total, else the sum of the findings.
    """
    demand = now.demand_m3_per_s
    problems = now.station.problems(demand) if now.medium is Medium.COMPRESSED_AIR else (ONLY_AIR,)
    if problems or demand is None:
        return _refused(problems)
    try:
        power = sum(load.power_w for load in group_power_w(now.station.machines, demand))
    except CurveRefused as exc:
        return _refused((exc.reason,))
    change = HeaderChange(now.header_gauge_pa, after_gauge_pa, now.atmosphere_pa, stages)
    leakage, remarks = _leakage(now, demand)
    factor, why = _factor(now, change, leakage)
    if factor is None:
        return _refused(why)
    saving = lower_header(change, Supply(_known(demand), _known(power), leakage, factor), points)
    return LowerHeader(saving, yearly_of(now, saving.together), leakage, (*remarks, *now.station.remarks))


def _leakage(now: SystemNow, demand: float) -> tuple[Uncertain, tuple[Reason, ...]]:
    """Return the flow that falls with the pressure, and what it rests on."""
    total = now.total()
    if total is not None:
        flow, scaled = total
        told = (Reason("leakage_from_test", "What leaks is taken from the last leak test."), *scaled)
    else:
        flow = now.found()
        text = (
            "No leak test is recorded: what leaks is taken as the sum of the findings, and is at least that."
        )
        told = (Reason("leakage_from_findings", text),)
    if flow.value <= demand:
        return flow, told
    text = "The leakage is larger than the mean demand and is cut to it; one of the two is wrong."
    return Uncertain(demand, flow.u), (*told, Reason("leakage_above_demand", text))


def _factor(
    now: SystemNow, change: HeaderChange, leakage: Uncertain
) -> tuple[Uncertain | None, tuple[Reason, ...]]:
    """Return what part of the full-load power the flow that goes away saves."""
    possible = 0.0 < change.after_gauge_pa < change.before_gauge_pa
    gone = leakage.value * (1.0 - change.leak_factor()) if possible else 0.0
    if not gone > 0.0:
        return Uncertain(1.0), ()
    saving = saving_of(now, Uncertain(gone))
    return factor_of(saving), saving.reasons


def _known(value: float) -> Uncertain:
    return Uncertain(value, SUPPLY_RELATIVE_U * value)


def _refused(reasons: tuple[Reason, ...]) -> LowerHeader:
    nothing = refused(unit="W", method=METHOD, version=VERSION, reasons=reasons, inputs={})
    return LowerHeader(HeaderSaving(nothing, nothing, nothing), Yearly(reasons=reasons))
