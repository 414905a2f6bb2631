"""Times to an event with some still open: Kaplan-Meier, its median and mean, and the log-rank test."""

import math
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from workorders.statements.rules.shares import Z95


@dataclass(frozen=True, slots=True)
class Watched:
    """One case: how old it was at the end, whether the event came then, and how old when watching began."""

    duration: float
    event: bool
    entry: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a time that is negative or no number, or that ends before watching began."""
        if not (math.isfinite(self.duration) and 0 <= self.entry <= self.duration):
            msg = "A case is watched from an age of 0 or more to a finite end."
            raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """The share still without the event just after a time, with a 95 % log-log interval.

    Where the curve reaches 0 the upper limit is not known (None).
    """

    time: float
    at_risk: int
    events: int
    survival: float
    low: float
    high: float | None


@dataclass(frozen=True, slots=True)
class Curve:
    """A Kaplan-Meier curve: one point for each time at which an event came."""

    points: tuple[CurvePoint, ...]
    cases: int
    events: int
    last_time: float

    def survival_at(self, time: float) -> float:
        """Read the curve at a time."""
        value = 1.0
        for point in self.points:
            if point.time > time:
                break
            value = point.survival
        return value

    @property
    def median(self) -> float | None:
        """Give the first time at which half or fewer are left; None when the curve never falls so far."""
        return next((point.time for point in self.points if point.survival <= 0.5 + 1e-12), None)

    @property
    def median_interval(self) -> tuple[float | None, float | None]:
        """Give the times at which the limits of the curve fall to one half; None where they don't."""
        low = next((point.time for point in self.points if point.low <= 0.5), None)
        high = next(
            (point.time for point in self.points if point.high is not None and point.high <= 0.5), None
        )
        return low, high

    def restricted_mean(self, tau: float) -> float:
        """Give the mean time without the event up to tau; always name tau beside it."""
        area, time, value = 0.0, 0.0, 1.0
        for point in self.points:
            if point.time >= tau:
                break
            area += value * (point.time - time)
            time, value = point.time, point.survival
        return area + value * (tau - time)


def kaplan_meier(cases: Sequence[Watched]) -> Curve:
    """Estimate the curve (Kaplan and Meier 1958; variance after Greenwood, interval log-log).

    Events come before cases that leave at the same time. A case that is watched only from a later age
    counts at risk from then on.
    """
    ends = _Ends(cases)
    points = []
    survival, spread = 1.0, 0.0
    for time in ends.times:
        at_risk, events = ends.at(time)
        if at_risk == 0:
            continue
        survival *= 1 - events / at_risk
        if at_risk > events:
            spread += events / (at_risk * (at_risk - events))
        low, high = _log_log(survival, spread)
        points.append(CurvePoint(time, at_risk, events, survival, low, high))
    last = max((case.duration for case in cases), default=0.0)
    return Curve(tuple(points), len(cases), sum(case.event for case in cases), last)


class _Ends:
    """The cases put in order once, so that each time is looked up and not counted anew."""

    def __init__(self, cases: Sequence[Watched]) -> None:
        self._entries = sorted(case.entry for case in cases)
        self._durations = sorted(case.duration for case in cases)
        self._events = Counter(case.duration for case in cases if case.event)
        self.times = sorted(self._events)

    def at(self, time: float) -> tuple[int, int]:
        """Count the cases at risk at a time, and the events then."""
        # At age 0 everybody watched from the start is at risk, though nobody entered before it.
        entered = bisect_left(self._entries, time) if time > 0 else bisect_right(self._entries, 0)
        return entered - bisect_left(self._durations, time), self._events[time]


def _log_log(survival: float, spread: float) -> tuple[float, float | None]:
    if survival <= 0:
        return 0.0, None
    width = Z95 * math.sqrt(spread) / math.log(survival)
    return survival ** math.exp(-width), survival ** math.exp(width)


@dataclass(frozen=True, slots=True)
class LogRank:
    """Whether two curves differ: chi-square with one degree of freedom, and its p."""

    chi_square: float
    p: float


def log_rank(one: Sequence[Watched], other: Sequence[Watched]) -> LogRank | None:
    """Compare two groups (Mantel 1966); None when there is nothing to compare."""
    difference, variance = 0.0, 0.0
    both, first = _Ends([*one, *other]), _Ends(one)
    for time in both.times:
        at_risk, events = both.at(time)
        at_risk_one, events_one = first.at(time)
        if at_risk < 2:
            continue
        share = at_risk_one / at_risk
        difference += events_one - events * share
        variance += events * share * (1 - share) * (at_risk - events) / (at_risk - 1)
    if variance == 0:
        return None
    chi_square = difference * difference / variance
    return LogRank(chi_square, math.erfc(math.sqrt(chi_square / 2)))
