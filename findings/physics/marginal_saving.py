"""What a repaired leak really saves: one machine, or a group in base-load order.

A leak taken away lowers the demand: only the machine that trims answers, base machines save nothing, and a
whole unloaded power goes in one step when a machine can stop. Two figures, never mixed: the full-load value
(leak times the running machines' full-load specific power), which is what the flow is worth, and the
expected saving P(D) - P(D - q), which is what the meter will show.

Sources: linear part-load model, Schmidt and Kissock (2004); uncertainty JCGM 100, and JCGM 101 where the
power bends or steps within the leak's reach.
"""

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, NamedTuple

from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.input_check import number_problems
from findings.physics.machine_group import Group, Loaded, Machine, Placed
from findings.physics.part_load import Control, Curve, CurveRefused, Share
from findings.physics.uncertainty import Uncertain, combine, interval, monte_carlo, propagate

METHOD: Final = "marginal-saving"
VERSION: Final = "1"
DRAWS: Final = 20_000
NEARLY_LINEAR: Final = 0.2
"""Relative uncertainty beyond which first-order propagation isn't trusted (JCGM 101, 5.4, as judgement)."""


@dataclass(frozen=True)
class Saving:
    """What taking a leak away is worth, W; a refused one has no figure and its reasons.

    ``average_w`` is the full-load value and ``marginal_w`` the expected saving, with standard uncertainties
    ``average_u_w`` and ``u_w`` and the latter's 95 % interval ``low`` to ``high``. ``shared_u_w`` is the part
    of ``u_w`` that all leaks of the system share (the curves): it adds up over leaks, the rest only in
    squares. ``proportional_w`` is the leak's part of today's power, as a bill would split it. ``step_w`` is
    the part of ``marginal_w`` that comes only if a machine is really stopped. ``factor`` is marginal over
    average; ``trim`` the key of the machine that answers.
    """

    average_w: float | None
    marginal_w: float | None
    average_u_w: float | None
    u_w: float | None
    low: float | None
    high: float | None
    reasons: tuple[Reason, ...]
    shared_u_w: float | None = None
    proportional_w: float | None = None
    step_w: float | None = None
    factor: float | None = None
    trim: str | None = None
    loads: tuple[Loaded, ...] = field(default=())

    @property
    def is_refused(self) -> bool:
        """Tell whether there is no figure."""
        return self.marginal_w is None

    def estimate(self) -> Estimate:
        """Return the expected saving as the common result of a computation, in W."""
        if self.is_refused:
            return refused(unit="W", method=METHOD, version=VERSION, reasons=self.reasons, inputs={})
        inputs = {"average_w": self.average_w, "step_w": self.step_w, "trim": self.trim}
        return Estimate(
            self.marginal_w,
            self.u_w,
            self.low,
            self.high,
            "W",
            METHOD,
            VERSION,
            Status.ESTIMATED,
            self.reasons,
            inputs,
        )


class Spread(NamedTuple):
    """Standard uncertainty in W, its part shared between leaks, and the 95 % bounds."""

    u: float
    shared: float
    low: float
    high: float


def group_power_w(machines: Sequence[Machine], demand_m3_per_s: float) -> tuple[Loaded, ...]:
    """Return what each machine delivers and takes at a demand, in loading order; raises CurveRefused."""
    group = Group(machines)
    group.check_demand(demand_m3_per_s)
    return group.loads(demand_m3_per_s)


def group_saving(
    machines: Sequence[Machine],
    demand_m3_per_s: float,
    leak_flow: Uncertain,
    *,
    seed: int = 1,
    draws: int = DRAWS,
) -> Saving:
    """Return what taking a leak (m3/s of free air) away saves while the group delivers a demand (m3/s).

    First-order uncertainty; ``draws`` of a seeded Monte Carlo where the leak is less certain than 20 %, or
    the power bends or steps within its reach. Refused, never guessed: no machine, a demand above capacity,
    a leak larger than the demand, measured points that don't reach.
    """
    problems = number_problems((leak_flow,), (demand_m3_per_s,))
    if problems:
        return _refusal(*problems)
    try:
        group = Group(machines)
        group.check_demand(demand_m3_per_s)
        _check_leak(leak_flow, demand_m3_per_s)
        return _saving(group, demand_m3_per_s, leak_flow, seed, draws)
    except CurveRefused as exc:
        return _refusal(exc.reason)


def _check_leak(leak: Uncertain, demand: float) -> None:
    if not leak.value > 0.0:
        raise CurveRefused(Reason("no_leak", "The leak's flow must be above 0."))
    if leak.value > demand * (1.0 + 1e-9):
        text = "The leak is larger than the whole demand; one of the two is wrong."
        raise CurveRefused(Reason("leak_above_demand", text))


def _refusal(*reasons: Reason) -> Saving:
    return Saving(None, None, None, None, None, None, reasons)


def _saving(group: Group, demand: float, leak: Uncertain, seed: int, draws: int) -> Saving:
    left = max(demand - leak.value, 0.0)
    worth, power, step = group.full_load_j_per_m3(demand), group.power_w(demand), group.step_w(demand, left)
    answer = max(power - group.power_w(left), 0.0)
    simulated = leak.u > NEARLY_LINEAR * leak.value or _bends(group, demand, leak.value + 2.0 * leak.u)
    spread = _simulate(group, demand, leak, seed, draws) if simulated else _first_order(group, demand, leak)
    average = leak.value * worth
    reasons = [*_reasons(group, demand), *_limits(answer, average, step, draws if simulated else 0)]
    return Saving(
        average_w=average,
        marginal_w=answer,
        average_u_w=leak.u * worth,
        u_w=spread.u,
        low=max(min(spread.low, answer - step), 0.0),
        high=max(spread.high, answer),
        reasons=tuple(reasons),
        shared_u_w=spread.shared,
        proportional_w=power * leak.value / demand,
        step_w=step,
        factor=answer / average,
        trim=group.running(demand)[-1].machine.key,
        loads=group.loads(demand),
    )


def _reasons(group: Group, demand: float) -> list[Reason]:
    """Return who answers to the repair, and what its curve rests on."""
    running = group.running(demand)
    trim = running[-1]
    words = trim.machine.control.replace("_", " ")
    text = (
        f"{trim.machine.key} ({words}) trims at {trim.flow_share(demand):.0%} of its flow; only it answers."
    )
    found = [Reason("trim_machine", text)]
    if len(running) > 1:
        text = "The machines before it in the order run full and save nothing until one of them can stop."
        found.append(Reason("base_machines_save_nothing", text))
    if trim.curve.points:
        found.append(Reason("measured_curve", "The part-load curve is the site's own measurement."))
    else:
        text = f"Power share at no flow {trim.curve.unloaded.value:.0%}: {trim.curve.unloaded.source}."
        found.append(Reason("part_load_curve", text))
    if trim.curve.control is Control.NONE and not trim.curve.points:
        text = "It blows off or never unloads: a repair saves nothing until a machine can be switched off."
        found.append(Reason("control_saves_nothing", text))
    return found


def _limits(answer: float, average: float, step: float, draws: int) -> list[Reason]:
    """Return what limits the figure."""
    found = []
    if step > 0.0:
        text = (
            f"{step / 1000.0:.2f} kW of the saving come only if a machine that is no longer needed is really "
            "switched off; by itself it may run on unloaded."
        )
        found.append(Reason("step_by_stopping", text))
    elif answer > average * (1.0 + 1e-9):
        text = "The trim machine cycles or runs poorly here: a cubic metre costs more than at full load."
        found.append(Reason("above_full_load_value", text))
    if draws:
        found.append(Reason("monte_carlo", f"The uncertainty comes from {draws} seeded draws."))
    return found


def _bends(group: Group, demand: float, reach: float) -> bool:
    """Tell whether the power may bend or step between D - reach and D."""
    for placed in group.placed:
        full, least = placed.machine.rated_flow_m3_per_s, placed.curve.least
        corners = [(x, x) for x in (0.0, *placed.curve.corners())]
        if least is not None and not placed.curve.points:
            corners.append((least.low, least.high))
        if any(
            demand - reach <= placed.before + high * full and placed.before + low * full < demand
            for low, high in corners
        ):
            return True
    return False


def _answering(group: Group, demand: float, reach: float) -> list[Placed]:
    """Return the machines whose load changes somewhere between D and D - reach."""
    least = max(demand - reach, 0.0)
    return [placed for placed in group.placed if placed.flow_share(demand) > placed.flow_share(least)]


def _moved(curve: Curve, unloaded: float, least: float) -> Curve:
    """Return the curve with other values of its uncertain shares."""
    if curve.points:
        return curve
    knee = None if curve.least is None else Share(least, least, least, curve.least.source)
    return replace(curve, unloaded=Share(unloaded, unloaded, unloaded, curve.unloaded.source), least=knee)


def _first_order(group: Group, demand: float, leak: Uncertain) -> Spread:
    """Return the spread by JCGM 100: the leak's own part, and the curves', which other leaks share."""
    answering = _answering(group, demand, leak.value)
    inputs = [leak]
    for placed in answering:
        least = placed.curve.least
        inputs.append(Uncertain(placed.curve.unloaded.value, placed.curve.unloaded.u))
        inputs.append(Uncertain(least.value, least.u) if least else Uncertain(0.0))

    def model(flow: float, *shares: float) -> float:
        total = 0.0
        for place, placed in enumerate(answering):
            curve = _moved(placed.curve, shares[2 * place], shares[2 * place + 1])
            total += placed.power_w(demand, curve) - placed.power_w(demand - flow, curve)
        return total

    found = propagate(model, inputs)
    bounds = interval(found.value, found.u, floor=0.0)
    return Spread(found.u, combine(found.contributions[1:]), bounds.low, bounds.high)


def _simulate(group: Group, demand: float, leak: Uncertain, seed: int, draws: int) -> Spread:
    """Return the spread by JCGM 101, and the shared part from draws in which the leak stays as it is."""
    answering = _answering(group, demand, leak.value + 5.0 * leak.u)
    both, bounds = monte_carlo(_drawing(answering, demand, leak), draws=draws, seed=seed)
    fixed = _drawing(answering, demand, Uncertain(leak.value))
    shared, _ = monte_carlo(fixed, draws=max(draws // 10, 2), seed=seed)
    return Spread(both.u, shared.u, bounds.low, bounds.high)


def _drawing(answering: Sequence[Placed], demand: float, leak: Uncertain) -> Callable[[random.Random], float]:
    """Return a draw of the saving: a normal leak between nothing and the demand, shares in their bounds."""

    def draw(source: random.Random) -> float:
        left = demand - min(max(source.gauss(*leak), 0.0), demand)
        total = 0.0
        for placed in answering:
            curve, least = placed.curve, placed.curve.least
            unloaded = source.uniform(curve.unloaded.low, curve.unloaded.high)
            knee = source.uniform(least.low, least.high) if least else 0.0
            curve = _moved(curve, unloaded, knee)
            total += placed.power_w(demand, curve) - placed.power_w(left, curve)
        return max(total, 0.0)

    return draw
