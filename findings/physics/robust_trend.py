"""A slope that one wild reading can't turn, and how steadily readings rise."""

import math
import statistics
from collections import Counter
from collections.abc import Sequence
from itertools import combinations
from typing import NamedTuple

from findings.physics.uncertainty import COVERAGE_95


class RobustTrend(NamedTuple):
    """Theil-Sen slope per unit of x with its 95 % interval, and Kendall's tau-b, -1 to 1."""

    slope: float
    low: float
    high: float
    tau: float | None


def robust_trend(x: Sequence[float], y: Sequence[float]) -> RobustTrend:
    """Return the median slope of all pairs, its interval after Sen, and Kendall's tau-b.

    The interval uses the normal approximation of Kendall's score with ties; it is rough below about ten
    points and can't be wider than the steepest and flattest pair. ``tau`` is None where all y are equal.
    ValueError for fewer than two different x. Work grows with the square of the number of points.
    Source: Sen, J. Am. Stat. Assoc. 63 (1968) 1379, from memory; Kendall's tau-b with ties.
    """
    pairs = list(combinations(zip(x, y, strict=True), 2))
    slopes = sorted((y2 - y1) / (x2 - x1) for (x1, y1), (x2, y2) in pairs if x1 != x2)
    if not slopes:
        msg = "a slope needs two different places"
        raise ValueError(msg)
    reach = COVERAGE_95 * math.sqrt(max(_score_variance(x, y), 0.0))
    first = max(round((len(slopes) - reach) / 2.0) - 1, 0)
    last = min(round((len(slopes) + reach) / 2.0), len(slopes) - 1)
    return RobustTrend(statistics.median(slopes), slopes[first], slopes[last], _tau_b(x, y, slopes))


def _score_variance(x: Sequence[float], y: Sequence[float]) -> float:
    """Return the variance of Kendall's score over all orders of y, with ties on both sides.

    Source: Kendall, Rank Correlation Methods, chapter on tests of significance, from memory.
    """
    count = len(x)
    ties = [list(Counter(values).values()) for values in (x, y)]
    whole = count * (count - 1) * (2 * count + 5)
    less = sum(size * (size - 1) * (2 * size + 5) for sizes in ties for size in sizes)
    pairs = math.prod(sum(size * (size - 1) for size in sizes) for sizes in ties)
    triples = math.prod(sum(size * (size - 1) * (size - 2) for size in sizes) for sizes in ties)
    variance = (whole - less) / 18.0 + pairs / (2.0 * count * (count - 1))
    return variance + (triples / (9.0 * count * (count - 1) * (count - 2)) if count > 2 else 0.0)


def _tau_b(x: Sequence[float], y: Sequence[float], slopes: Sequence[float]) -> float | None:
    """Return Kendall's tau-b from the signs of all pairs that differ in x."""

    def untied(values: Sequence[float]) -> int:
        tied = sum(count * (count - 1) for count in Counter(values).values())
        return (len(values) * (len(values) - 1) - tied) // 2

    score = sum((slope > 0.0) - (slope < 0.0) for slope in slopes)
    spread = untied(x) * untied(y)
    return score / math.sqrt(spread) if spread else None
