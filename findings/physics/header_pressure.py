"""What a lower header pressure saves: leaks blow less, and every cubic metre takes less work.

Two effects. A leak's flow falls with its supply pressure, in proportion to the absolute pressure while it is
choked; regulated users take what they took. The compressor's work per cubic metre falls with the pressure
ratio. Together they multiply, so the sum of both alone would count a part twice.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, NamedTuple

from findings.physics.compressor import adiabatic_work_j_per_m3, isothermal_work_j_per_m3
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.gases import GASES
from findings.physics.input_check import number_problems
from findings.physics.orifice import critical_pressure_ratio, flow_factor
from findings.physics.quantities import convert
from findings.physics.uncertainty import Uncertain, interval, propagate, rectangular

METHOD: Final = "header-pressure"
VERSION: Final = "1"
MOST_STAGES: Final = 4
RULE_PART: Final = 0.01
"""Part of the power per 2 psi of header pressure near 100 psig (US DOE sourcebook)."""


class WorkBasis(StrEnum):
    """How the compressor's work falls with its pressure."""

    ADIABATIC = "adiabatic"
    RULE = "one_per_cent_per_two_psi"


class PointOfUse(NamedTuple):
    """A consumer: the least gauge pressure it needs and the loss from the header to it, Pa."""

    name: str
    least_gauge_pa: float
    loss_pa: float = 0.0


@dataclass(frozen=True)
class HeaderChange:
    """A header pressure before and after, Pa gauge; the site's atmosphere and the compressor's stages."""

    before_gauge_pa: float
    after_gauge_pa: float
    atmosphere_pa: float = 101_325.0
    stages: int = 1
    basis: WorkBasis = WorkBasis.ADIABATIC

    def leak_factor(self) -> float:
        """Return a leak's flow after over before, to the atmosphere, air: p2/p1 absolute while choked."""
        return self._through_a_hole(self.after_gauge_pa) / self._through_a_hole(self.before_gauge_pa)

    def work_factor(self) -> float:
        """Return the compressor's work per m3 after over before."""
        if self.basis is WorkBasis.RULE:
            fall = convert(self.before_gauge_pa - self.after_gauge_pa, "Pa", "psi")
            return 1.0 - RULE_PART * fall / 2.0
        return self._work(self.after_gauge_pa) / self._work(self.before_gauge_pa)

    def work_factor_u(self) -> float:
        """Return its standard uncertainty: as far as the isothermal ratio lies off (judgement)."""
        inlet = self.atmosphere_pa
        after, before = (
            isothermal_work_j_per_m3(inlet, inlet + gauge)
            for gauge in (self.after_gauge_pa, self.before_gauge_pa)
        )
        return rectangular(abs(after / before - self.work_factor()))

    def is_choked(self) -> bool:
        """Tell whether leaks stay choked down to the lower pressure."""
        least = self.atmosphere_pa / critical_pressure_ratio(GASES["air"].k)
        return self.after_gauge_pa + self.atmosphere_pa >= least

    def _through_a_hole(self, gauge_pa: float) -> float:
        upstream = gauge_pa + self.atmosphere_pa
        return upstream * flow_factor(self.atmosphere_pa / upstream, GASES["air"].k)

    def _work(self, gauge_pa: float) -> float:
        inlet = self.atmosphere_pa
        return adiabatic_work_j_per_m3(inlet, inlet + gauge_pa, stages=self.stages)


class Supply(NamedTuple):
    """What the compressors deliver (m3/s free air) and take (W) before, what of it leaks or blows open.

    ``unregulated_flow`` is every use that falls with the pressure: leaks, open blowing, nozzles without a
    regulator. ``marginal_factor`` is what part of a flow's full-load power its going away saves.
    """

    flow: Uncertain
    power_w: Uncertain
    unregulated_flow: Uncertain
    marginal_factor: Uncertain


class HeaderSaving(NamedTuple):
    """The saving in W: by less flow alone, by less work alone, by both; and the two factors."""

    less_flow: Estimate
    less_work: Estimate
    together: Estimate
    leak_factor: float | None = None
    work_factor: float | None = None


def lower_header(
    change: HeaderChange, supply: Supply, points_of_use: Sequence[PointOfUse] = ()
) -> HeaderSaving:
    """Return what lowering the header pressure saves while everything else stays.

    Refused where a point of use would get less than it needs, and for pressures, flows or stages that
    can't be. The pressure stays the compressors' own discharge pressure: losses before the header add.
    """
    problems = _problems(change, supply, points_of_use)
    if problems:
        return HeaderSaving(_refusal(problems), _refusal(problems), _refusal(problems))
    leak, work = change.leak_factor(), change.work_factor()
    inputs = (*supply, Uncertain(work, change.work_factor_u()))
    reasons = _reasons(change, supply, points_of_use)

    def by_flow(flow: float, power: float, loose: float, factor: float, _work: float) -> float:
        return power * factor * loose / flow * (1.0 - leak)

    def by_work(_flow: float, power: float, _loose: float, _factor: float, work: float) -> float:
        return power * (1.0 - work)

    def by_both(flow: float, power: float, loose: float, factor: float, work: float) -> float:
        return power * (1.0 - (1.0 - factor * loose / flow * (1.0 - leak)) * work)

    return HeaderSaving(
        _estimate(by_flow, inputs, reasons),
        _estimate(by_work, inputs, reasons),
        _estimate(by_both, inputs, reasons),
        leak,
        work,
    )


def _estimate(
    model: Callable[..., float], inputs: Sequence[Uncertain], reasons: tuple[Reason, ...]
) -> Estimate:
    found = propagate(model, inputs)
    bounds = interval(found.value, found.u, floor=0.0)
    return Estimate(
        found.value, found.u, bounds.low, bounds.high, "W", METHOD, VERSION, Status.ESTIMATED, reasons
    )


def _refusal(reasons: tuple[Reason, ...]) -> Estimate:
    return refused(unit="W", method=METHOD, version=VERSION, reasons=reasons, inputs={})


def _problems(
    change: HeaderChange, supply: Supply, points_of_use: Sequence[PointOfUse]
) -> tuple[Reason, ...]:
    """Return why there is no figure."""
    pressures = (change.before_gauge_pa, change.after_gauge_pa, change.atmosphere_pa)
    needs = [number for point in points_of_use for number in (point.least_gauge_pa, point.loss_pa)]
    found = number_problems(supply, (*pressures, *needs))
    if found:
        return found
    if not 0.0 < change.after_gauge_pa < change.before_gauge_pa or not change.atmosphere_pa > 0.0:
        text = "The new pressure must lie below the old one and above the atmosphere."
        return (Reason("not_a_lower_pressure", text),)
    if not 1 <= change.stages <= MOST_STAGES:
        return (Reason("stages_impossible", f"A compressor here has 1 to {MOST_STAGES} stages."),)
    if not 0.0 < change.work_factor() < 1.0:
        text = "The rule of 1 % per 2 psi doesn't reach so far down; use the adiabatic work."
        return (Reason("rule_out_of_range", text),)
    if not (supply.flow.value > 0.0 and supply.power_w.value > 0.0):
        return (Reason("no_supply", "Flow and power of the compressors must be above 0."),)
    if not 0.0 <= supply.unregulated_flow.value <= supply.flow.value:
        text = "Leaks and open use can't be larger than all that is delivered, nor below 0."
        return (Reason("more_leaks_than_flow", text),)
    if not 0.0 <= supply.marginal_factor.value <= 2.0:
        return (Reason("factor_impossible", "The marginal factor lies between 0 and 2."),)
    return _starved(change, points_of_use)


def _starved(change: HeaderChange, points_of_use: Sequence[PointOfUse]) -> tuple[Reason, ...]:
    """Return which points of use would get less pressure than they need."""
    found = []
    for point in points_of_use:
        arrives = change.after_gauge_pa - point.loss_pa
        if arrives < point.least_gauge_pa:
            text = (
                f"{point.name} needs {point.least_gauge_pa / 1e5:.2f} bar gauge and would get "
                f"{arrives / 1e5:.2f} bar. Lower its need, cut the loss on the way to it, or feed it apart."
            )
            found.append(Reason("too_little_pressure", text))
    return tuple(found)


def _reasons(change: HeaderChange, supply: Supply, points_of_use: Sequence[PointOfUse]) -> tuple[Reason, ...]:
    found = []
    if not points_of_use:
        text = (
            "No least pressure of a point of use was given: find the neediest consumer before turning down."
        )
        found.append(Reason("needs_unknown", text))
    else:
        spare = min(change.after_gauge_pa - point.loss_pa - point.least_gauge_pa for point in points_of_use)
        found.append(
            Reason("least_reserve", f"The neediest point of use keeps {spare / 1e5:.2f} bar in reserve.")
        )
    if not change.is_choked():
        found.append(Reason("subsonic", "At the lower pressure leaks are no longer choked; counted so."))
    if supply.marginal_factor == Uncertain(1.0):
        text = "Less flow is counted at full-load value; most controls save less."
        found.append(Reason("full_load_value", text))
    return tuple(found)
