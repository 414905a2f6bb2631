"""How a measured or stated flow becomes an estimate: its model propagated, or the refusal its inputs earn."""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from findings.physics import uncertainty
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.input_check import number_problems
from findings.physics.uncertainty import COVERAGE_95, Uncertain

VERSION = "1"
UNIT = "m3/s"
LARGEST_FLOW_M3_PER_S = 100.0
SHORTEST_FILL_S = 5.0
LARGEST_SPREAD_OF_RUNS = 0.10
RUNS = 3


def measured_flow(
    model: Callable[..., float],
    quantities: Sequence[Uncertain],
    *,
    method: str,
    reasons: Sequence[Reason],
    inputs: Mapping[str, Any],
    problems: Sequence[Reason],
    status: Status = Status.MEASURED,
    more_u: Callable[[float], float] | None = None,
    factor: float = COVERAGE_95,
) -> Estimate:
    """Return the model's flow in m3/s with its interval, or the refusal that its inputs earn.

    ``more_u`` gives a further standard uncertainty in m3/s from the flow itself, independent of the
    quantities; ``factor`` is the coverage factor of the interval.
    """
    found = list(number_problems(quantities) or problems)
    kept = {name: value if _is_plain(value) else None for name, value in inputs.items()}
    flow, u = 0.0, 0.0
    if not found:
        spread = uncertainty.propagate(model, quantities)
        flow = spread.value
        u = math.hypot(spread.u, more_u(flow)) if more_u else spread.u
        if not 0.0 <= flow <= LARGEST_FLOW_M3_PER_S or not math.isfinite(u):
            found.append(Reason("flow_out_of_range", "A leak's flow lies between 0 and 100 m3/s."))
    if found:
        return refused(unit=UNIT, method=method, version=VERSION, reasons=tuple(found), inputs=kept)
    bounds = uncertainty.interval(flow, u, factor=factor, floor=0.0)
    return Estimate(
        value=flow,
        u=u,
        low=bounds.low,
        high=bounds.high,
        unit=UNIT,
        method=method,
        method_version=VERSION,
        status=status,
        reasons=tuple(reasons),
        inputs=kept,
    )


def positive(**numbers: float) -> list[Reason]:
    """Return a problem for each number that isn't above zero, named by its argument."""
    text = "{} must be above zero."
    return [
        Reason(f"{name}_not_positive", text.format(name.replace("_", " ").capitalize()))
        for name, number in numbers.items()
        if not number > 0.0
    ]


def mean_of_runs(times_s: Sequence[float], vessel: str) -> tuple[float, list[Reason], list[Reason]]:
    """Return the mean time of the runs that filled a vessel, why it can't be used, and what to say of it.

    At least 5 s each, no more than 10 % apart, three runs. Source: the calibrated-bag rule of 40 CFR
    98.234, from memory.
    """
    runs = [float(time) for time in times_s]
    mean = sum(runs) / len(runs) if runs else 0.0
    problems, remarks = [], []
    if not mean >= SHORTEST_FILL_S:
        text = f"A {vessel} fills in at least 5 s; take a bigger {vessel}."
        problems.append(Reason(f"{vessel}_time_too_short", text))
    elif max(runs) - min(runs) > LARGEST_SPREAD_OF_RUNS * mean:
        text = "The runs differ by more than 10 %; repeat them."
        problems.append(Reason(f"{vessel}_runs_differ", text))
    if len(runs) < RUNS:
        remarks.append(Reason("few_runs", "Fewer than three runs were timed."))
    return mean, problems, remarks


def _is_plain(value: Any) -> bool:
    """Tell whether JSON can carry the value."""
    return not isinstance(value, float) or math.isfinite(value)
