"""What shutting a branch off outside hours saves: its leaks don't blow while nobody needs the air."""

from typing import Final

from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.input_check import number_problems
from findings.physics.uncertainty import Uncertain, interval, propagate

METHOD: Final = "branch-shut-off"
VERSION: Final = "1"
HOURS_OF_A_LEAP_YEAR: Final = 8784.0
J_PER_KWH: Final = 3.6e6


def shut_off_energy_kwh(
    leak_flow_m3_per_s: Uncertain,
    specific_energy_j_per_m3: Uncertain,
    marginal_factor: Uncertain,
    hours_shut: Uncertain,
    *,
    refilled_m3: float = 0.0,
    refills: float = 0.0,
) -> Estimate:
    """Return the energy in kWh that a branch's leaks don't take while it is shut for some hours.

    Leak flow of the branch alone, in m3/s of free air while it is under pressure; energy per m3 at full
    load; what part of it going away saves. Each opening fills the branch again: ``refilled_m3`` of free air
    per opening, ``refills`` times. Refused for numbers that can't be.
    """
    inputs = (leak_flow_m3_per_s, specific_energy_j_per_m3, marginal_factor, hours_shut)
    problems = number_problems(inputs, (refilled_m3, refills)) or _problems(inputs, refilled_m3, refills)
    if problems:
        return refused(unit="kWh", method=METHOD, version=VERSION, reasons=problems, inputs={})

    def model(flow: float, energy: float, factor: float, hours: float) -> float:
        return (flow * hours * 3600.0 - refilled_m3 * refills) * energy * factor / J_PER_KWH

    found = propagate(model, inputs)
    bounds = interval(found.value, found.u)
    return Estimate(
        found.value,
        found.u,
        bounds.low,
        bounds.high,
        "kWh",
        METHOD,
        VERSION,
        Status.ESTIMATED,
        _reasons(found.value, refills),
    )


def _problems(inputs: tuple[Uncertain, ...], refilled: float, refills: float) -> tuple[Reason, ...]:
    flow, energy, factor, hours = (item.value for item in inputs)
    if not (flow > 0.0 and energy > 0.0):
        return (Reason("no_leak", "The branch's leak flow and the specific energy must be above 0."),)
    if not 0.0 <= factor <= 2.0:
        return (Reason("factor_impossible", "The marginal factor lies between 0 and 2."),)
    if not 0.0 <= hours <= HOURS_OF_A_LEAP_YEAR:
        return (Reason("hours_impossible", "A year has at most 8784 hours to be shut."),)
    if refilled < 0.0 or refills < 0.0:
        return (Reason("refill_negative", "A branch isn't filled by less than nothing."),)
    return ()


def _reasons(value: float, refills: float) -> tuple[Reason, ...]:
    found = []
    if not refills:
        text = "The air that fills the branch at each opening isn't counted."
        found.append(Reason("refill_not_counted", text))
    if value < 0.0:
        text = "Filling the branch again takes more than its leaks lose while it is shut."
        found.append(Reason("shutting_costs", text))
    return tuple(found)
