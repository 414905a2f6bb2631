"""A whole system's leak flow without any demand: by several machines' cycles, by a line through decays."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from findings.physics import compressor, uncertainty
from findings.physics.estimate import Estimate, Reason
from findings.physics.input_check import NEGATIVE, number_problems
from findings.physics.leak_flow import HIGHEST_PRESSURE_PA, TEMPERATURE_LIMITS_K, WORDS
from findings.physics.measured import measured_flow, positive
from findings.physics.reference_states import DEFAULT_STATE, ReferenceState
from findings.physics.uncertainty import Uncertain

CYCLES_TO_JUDGE_BY = 3
STEPS_TO_JUDGE_BY = 3
SHORTEST_S = 1.0
LONGEST_S = 1e8
LARGEST_VOLUME_M3 = 1e6


class Machine(NamedTuple):
    """A machine's load and unload times in s over the same cycles, and its capacity in m3/s."""

    load_s: Sequence[float]
    unload_s: Sequence[float]
    capacity: Uncertain


def cycle_share(load_s: Sequence[float], unload_s: Sequence[float], time_u_s: float) -> Uncertain:
    """Return the part of the time on load, its u from the timing and, from three cycles on, their scatter.

    The scatter is that of a ratio of means. Source: Cochran, Sampling Techniques, 3rd edition, section 2.11,
    from memory. ZeroDivisionError for no time at all.
    """
    loaded, idle, cycles = math.fsum(load_s), math.fsum(unload_s), len(load_s)
    whole = loaded + idle
    share = compressor.leak_share(loaded, idle)
    timing = time_u_s * math.sqrt(cycles) * math.hypot(loaded, idle) / (whole * whole)
    scatter = 0.0
    if cycles >= CYCLES_TO_JUDGE_BY:
        left = [on - share * (on + off) for on, off in zip(load_s, unload_s, strict=True)]
        scatter = math.sqrt(math.fsum(rest * rest for rest in left) * cycles / (cycles - 1)) / whole
    return Uncertain(share, math.hypot(timing, scatter))


def machines_flow(
    machines: Sequence[Machine],
    *,
    time_u_s: float = 1.0,
    shared_capacity_relative_u: float = 0.0,
    state: ReferenceState = DEFAULT_STATE,
) -> Estimate:
    """Return the leak flow from the cycles of machines that ran side by side without any demand, in m3/s.

    For load/unload and start/stop control only; a machine that never unloads counts whole, one that never
    loads not at all. ``shared_capacity_relative_u`` is what the capacities' uncertainties have in common.
    Source: DOE compressed-air sourcebook.
    """
    problems = _machine_problems(machines, time_u_s, shared_capacity_relative_u)
    total = Uncertain(0.0)
    if not problems:
        shares = [cycle_share(machine.load_s, machine.unload_s, time_u_s) for machine in machines]
        pairs = [(share, machine.capacity) for share, machine in zip(shares, machines, strict=True)]
        flow = math.fsum(share.value * capacity.value for share, capacity in pairs)
        own = (math.hypot(share.u * capacity.value, share.value * capacity.u) for share, capacity in pairs)
        total = Uncertain(flow, uncertainty.combine([*own, shared_capacity_relative_u * flow]))
        if not flow:
            problems.append(Reason("never_loaded", "No machine ran on load; there is nothing to measure."))
    few = Reason("few_cycles", "Fewer than three cycles of a machine were timed.")
    return measured_flow(
        lambda flow: flow,
        [total],
        method="load_unload_machines",
        reasons=[few] if any(len(machine.load_s) < CYCLES_TO_JUDGE_BY for machine in machines) else [],
        problems=problems,
        inputs={
            "machines": len(machines),
            "cycles": [len(machine.load_s) for machine in machines],
            "capacity_m3_per_s": math.fsum(machine.capacity.value for machine in machines)
            if not problems
            else None,
            "reference_state": state.key,
        },
    )


def _machine_problems(machines: Sequence[Machine], time_u_s: float, shared: float) -> list[Reason]:
    """Return why these cycles tell no flow."""
    problems = list(number_problems([machine.capacity for machine in machines], (time_u_s, shared)))
    if problems:
        return problems
    if min(time_u_s, shared) < 0.0:
        problems.append(NEGATIVE)
    if not machines or any(not machine.capacity.value > 0.0 for machine in machines):
        text = "Each machine needs its capacity, above zero."
        problems.append(Reason("capacity_not_positive", text))
    for number, machine in enumerate(machines, start=1):
        times = (*machine.load_s, *machine.unload_s)
        paired = len(machine.load_s) == len(machine.unload_s)
        if not (paired and all(0.0 <= time <= LONGEST_S for time in times) and sum(times) >= SHORTEST_S):
            text = (
                f"Each cycle of machine {number} needs a load time and an unload time, together at least 1 s."
            )
            problems.append(Reason("cycles_incomplete", text))
    return problems


class DecayStep(NamedTuple):
    """A fall from one absolute pressure in Pa to another in a time in s."""

    start_pa: float
    end_pa: float
    duration_s: float


def decay_line_flow(
    steps: Sequence[DecayStep],
    volume_m3: Uncertain,
    working_pa: float,
    *,
    temperature_k: float,
    atmosphere_pa: float,
    state: ReferenceState = DEFAULT_STATE,
) -> Estimate:
    """Return the leak flow at a working pressure from the line through the mean losses of several decays.

    Absolute pressures. Least squares of loss against mean pressure, read at ``working_pa``; u of the line
    there with Student's factor, and the volume's. Three steps at least. Source: NAVFAC MO-209, chapter 5;
    u of a fitted line by JCGM 100, H.3.
    """
    inputs = {
        "steps": len(steps),
        "volume_m3": volume_m3.value,
        "working_absolute_pa": working_pa,
        "temperature_k": temperature_k,
        "atmosphere_absolute_pa": atmosphere_pa,
        "reference_state": state.key,
    }
    problems = _step_problems(steps, volume_m3, working_pa, temperature_k, atmosphere_pa)
    fit, factor = Uncertain(0.0), uncertainty.COVERAGE_95
    if not problems:
        fit = _loss_at(
            steps, working_pa, volume_m3.value / state.pressure_pa * state.temperature_k / temperature_k
        )
        parts = (fit.u, volume_m3.relative * fit.value)
        degrees = uncertainty.effective_degrees_of_freedom(parts, (len(steps) - 2, math.inf))
        factor = uncertainty.coverage_factor(max(degrees, 1.0))
        if not fit.value > 0.0:
            text = "The line through the decays shows no loss at the working pressure."
            problems.append(Reason("no_loss_on_the_line", text))
    reasons = []
    if steps and not min(s.end_pa for s in steps) <= working_pa <= max(s.start_pa for s in steps):
        text = "The working pressure lies outside the decays; the line is read beyond them."
        reasons.append(Reason("read_beyond_tests", text))
    return measured_flow(
        lambda flow: flow,
        [Uncertain(0.0) if problems else fit],
        method="pressure_decay_line",
        reasons=reasons,
        problems=problems,
        inputs=inputs,
        more_u=lambda flow: flow * volume_m3.relative,
        factor=factor,
    )


def _loss_at(steps: Sequence[DecayStep], working_pa: float, scale: float) -> Uncertain:
    """Return the loss at a pressure by the line through the steps; ``scale`` is loss per rate of fall."""
    means = [(step.start_pa + step.end_pa) / 2.0 for step in steps]
    losses = [scale * (step.start_pa - step.end_pa) / step.duration_s for step in steps]
    return line_at(means, losses, working_pa)


def line_at(xs: Sequence[float], ys: Sequence[float], x: float) -> Uncertain:
    """Return the least-squares line's value at x with the standard uncertainty of the line there.

    Three points at least, else ZeroDivisionError; two different xs, else ValueError. Source: JCGM 100, H.3.
    """
    line, n = compressor.loss_line(xs, ys), len(xs)
    mean = math.fsum(xs) / n
    width = math.fsum((each - mean) ** 2 for each in xs)
    left = math.fsum((y - line.at(each)) ** 2 for each, y in zip(xs, ys, strict=True))
    variance = left / (n - 2) * (1.0 / n + (x - mean) ** 2 / width)
    return Uncertain(line.at(x), math.sqrt(variance))


def _step_problems(
    steps: Sequence[DecayStep],
    volume_m3: Uncertain,
    working_pa: float,
    temperature_k: float,
    atmosphere_pa: float,
) -> list[Reason]:
    """Return why no line follows."""
    numbers = (*(number for step in steps for number in step), working_pa, temperature_k, atmosphere_pa)
    problems = list(number_problems([volume_m3], numbers))
    if problems:
        return problems
    problems = positive(volume=volume_m3.value)
    if volume_m3.value > LARGEST_VOLUME_M3:
        text = "The closed volume isn't above a million cubic metres; check its unit."
        problems.append(Reason("volume_out_of_range", text))
    lowest, highest = TEMPERATURE_LIMITS_K
    if not lowest <= temperature_k <= highest:
        problems.append(Reason("temperature_out_of_range", WORDS["temperature_out_of_range"]))
    if max((working_pa, *(step.start_pa for step in steps))) > HIGHEST_PRESSURE_PA:
        problems.append(Reason("pressure_out_of_range", WORDS["pressure_out_of_range"]))
    if len(steps) < STEPS_TO_JUDGE_BY:
        problems.append(Reason("too_few_steps", "A line with its uncertainty needs three decays at least."))
    if any(not step.start_pa > step.end_pa >= atmosphere_pa > 0.0 for step in steps):
        text = "In each step the pressure must fall and end at or above the atmosphere."
        problems.append(Reason("no_pressure_fall", text))
    if any(not SHORTEST_S <= step.duration_s <= LONGEST_S for step in steps):
        problems.append(Reason("duration_out_of_range", "Each step lasts a second at least."))
    means = [(step.start_pa + step.end_pa) / 2.0 for step in steps]
    if means and max(means) - min(means) < 1e-6 * max(means):
        problems.append(Reason("one_pressure_only", "A line needs decays at different pressures."))
    if not working_pa > atmosphere_pa:
        text = "The working pressure isn't above the atmosphere."
        problems.append(Reason("no_pressure_difference", text))
    return problems
