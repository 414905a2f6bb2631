"""Leak flow from a meter's readings at night or in a shutdown: the base flow less the users known to run."""

import math
from collections.abc import Sequence
from statistics import NormalDist, fmean, median
from typing import NamedTuple

from findings.physics.estimate import Estimate, Reason
from findings.physics.input_check import NOT_FINITE
from findings.physics.measured import measured_flow
from findings.physics.reference_states import DEFAULT_STATE, ReferenceState
from findings.physics.uncertainty import COVERAGE_95, Uncertain, coverage_factor

SHORTEST_WINDOW = 3
FEWEST_READINGS = 20
STEADY_SPREAD = 0.10
"""A window is steady while its standard deviation stays within a tenth of its mean (judgement)."""
POOLING_REACH = 4.0 * math.sqrt(2.0)
"""Two windows of one base flow differ by less than four standard errors of their difference (judgement)."""
WINDOWS_TO_JUDGE_BY = 3
NORMAL_QUARTILE = NormalDist().inv_cdf(0.75)
LARGEST_READING_M3_PER_S = 1e4
NO_USERS = Uncertain(0.0)


class Meter(NamedTuple):
    """Standard uncertainty of a flow meter: a part of the reading, and an amount in m3/s such as its zero."""

    relative_u: float = 0.0
    u_m3_per_s: float = 0.0


PERFECT = Meter()


class Window(NamedTuple):
    """Mean and standard deviation of consecutive readings, and how far their halves' means lie apart."""

    mean: float
    spread: float
    drift: float


def _window(readings: Sequence[float]) -> Window:
    """Return the window of some readings."""
    half = len(readings) // 2
    drift = abs(fmean(readings[:half]) - fmean(readings[half:]))
    return Window(fmean(readings), _deviation(readings), drift)


def _deviation(numbers: Sequence[float]) -> float:
    """Return the standard deviation of two numbers or more, in floats: a night's readings are many."""
    mean = fmean(numbers)
    return math.sqrt(math.fsum((number - mean) ** 2 for number in numbers) / (len(numbers) - 1))


def base_by_window(readings: Sequence[float], length: int) -> Uncertain | None:
    """Return the base flow from the steady windows of the lowest level, None where none is steady.

    The readings are cut into windows of ``length``. The quietest steady one sets the level; all steady ones
    that can't be told from it are averaged, for the lowest of many alone is low by chance. The u is that of
    their mean from their own scatter, with Student's factor over the normal one; below three windows it is
    the scatter of single readings. A window should be longer than the flow's own waves, else u is too small.
    """
    cuts = range(0, len(readings) - length + 1, length)
    windows = [_window(readings[n : n + length]) for n in cuts]
    steady = [window for window in windows if window.spread <= STEADY_SPREAD * window.mean]
    if not steady:
        return None
    quietest = min(steady)
    apart = max(quietest.spread / math.sqrt(length), _scatter(steady))
    level = [window.mean for window in steady if window.mean <= quietest.mean + POOLING_REACH * apart]
    count = len(level)
    if count < WINDOWS_TO_JUDGE_BY:
        return Uncertain(fmean(level), quietest.spread)
    widened = coverage_factor(count - 1) / COVERAGE_95
    return Uncertain(fmean(level), _deviation(level) / math.sqrt(count) * widened)


def _scatter(windows: Sequence[Window]) -> float:
    """Return the standard deviation of a window's mean, slow waves included.

    From the median drift within windows, which few switched users can't move: half of a normal variable's
    values are within 0.6745 standard deviations, and the halves' difference has twice that of the mean.
    """
    return median(window.drift for window in windows) / (2.0 * NORMAL_QUARTILE)


def base_by_quantile(readings: Sequence[float], part: float) -> Uncertain:
    """Return the reading that a part of all lie below, u from the ranks chance may make it (binomial)."""
    ordered, n = sorted(readings), len(readings)
    reach = COVERAGE_95 * math.sqrt(n * part * (1.0 - part))
    low, middle, high = (
        ordered[min(max(math.floor(n * part + shift), 0), n - 1)] for shift in (-reach, 0.0, reach)
    )
    return Uncertain(middle, (high - low) / (2.0 * COVERAGE_95))


def sum_of_users(users: Sequence[Uncertain]) -> Uncertain:
    """Return what independent users take together."""
    return Uncertain(math.fsum(user.value for user in users), math.hypot(*(user.u for user in users)))


def base_flow(
    readings_m3_per_s: Sequence[float],
    *,
    window: int | None = None,
    part: float = 0.05,
    users: Uncertain = NO_USERS,
    meter: Meter = PERFECT,
    state: ReferenceState = DEFAULT_STATE,
) -> Estimate:
    """Return the leak flow from readings at even steps while nothing else but ``users`` ran, in m3/s.

    With ``window`` (readings) by the steady windows, without by the quantile ``part``. Refused for fewer than
    20 readings, where no window is steady, and where the users take as much as the meter shows.
    """
    readings = [float(reading) for reading in readings_m3_per_s]
    method = "base_flow_quantile" if window is None else "base_flow_window"
    problems = _problems(readings, window, part, users, meter)
    base = None
    if not problems:
        base = base_by_quantile(readings, part) if window is None else base_by_window(readings, window)
        if base is None:
            text = "No window is steady within 10 %: something switched all the time; take a quieter night."
            problems.append(Reason("no_steady_window", text))
    base = base or Uncertain(0.0)
    leak = Uncertain(base.value - users.value, math.hypot(base.u, meter.relative_u * base.value))
    leak = Uncertain(leak.value, math.hypot(leak.u, meter.u_m3_per_s, users.u))
    if not problems and not leak.value > leak.u:
        most = max(leak.value + COVERAGE_95 * leak.u, 0.0)
        text = (
            "The known users take about as much as the meter shows at its lowest; no leak flow can be told "
            f"from it. It is hardly above {most:.2g} m3/s."
        )
        problems.append(Reason("users_take_it_all", text))
    return measured_flow(
        lambda flow: flow,
        [Uncertain(0.0) if problems else leak],
        method=method,
        reasons=_reasons(window),
        problems=problems,
        inputs={
            "readings": len(readings),
            "window": window,
            "part": part if window is None else None,
            "base_flow_m3_per_s": base.value,
            "base_flow_u_m3_per_s": base.u,
            "users_m3_per_s": users.value,
            "users_u_m3_per_s": users.u,
            "reference_state": state.key,
        },
    )


def _problems(
    readings: Sequence[float], window: int | None, part: float, users: Uncertain, meter: Meter
) -> list[Reason]:
    """Return why no base flow follows."""
    if not all(map(math.isfinite, (*readings, *users, *meter, part))):
        return [NOT_FINITE]
    problems = []
    if len(readings) < FEWEST_READINGS:
        problems.append(Reason("too_few_readings", "Twenty readings at least make a night."))
    if min((*readings, *users, *meter)) < 0.0:
        problems.append(Reason("below_zero", "Readings, users and uncertainties are never below zero."))
    if max((*readings, *users, *meter)) > LARGEST_READING_M3_PER_S:
        problems.append(
            Reason("flow_out_of_range", "A plant's flow isn't above 10 000 m3/s; check its unit.")
        )
    if window is not None and not SHORTEST_WINDOW <= window <= len(readings):
        text = "A window holds three readings at least and no more than there are."
        problems.append(Reason("window_out_of_range", text))
    if not 0.0 < part < 1.0:
        problems.append(Reason("part_out_of_range", "A quantile lies between 0 and 1."))
    return problems


def _reasons(window: int | None) -> list[Reason]:
    """Return what the reader of a base flow should know."""
    text = "Whatever ran unseen counts as leak: only as good as the list of users at that time."
    reasons = [Reason("assumes_users_known", text)]
    if window is None:
        text = "A low quantile of an unsteady meter lies below its base flow; steady windows don't."
        reasons.append(Reason("quantile_reads_low", text))
    return reasons
