"""Shares and counts with their intervals: Wilson, exact Poisson, Chapman."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

Z95: Final = 1.959963984540054
"""The normal quantile of 97.5 %, behind every 95 % interval here."""


@dataclass(frozen=True, slots=True)
class Share:
    """A part of a whole. With nothing to divide by, `value` is None: neither 0 nor 100 %.

    Low and high are a 95 % interval, given for counts only.
    """

    part: Decimal
    whole: Decimal
    value: float | None
    low: float | None = None
    high: float | None = None


def share_of_counts(part: int, whole: int, *, interval: bool = True) -> Share:
    """Divide counts, with the Wilson interval where the part belongs to the whole."""
    if whole == 0:
        return Share(Decimal(part), Decimal(0), None)
    if not interval or part > whole:
        return Share(Decimal(part), Decimal(whole), part / whole)
    low, high = wilson(part, whole)
    return Share(Decimal(part), Decimal(whole), part / whole, low, high)


def share_of_amounts(part: Decimal, whole: Decimal) -> Share:
    """Divide flows or money; no interval."""
    return Share(part, whole, None if whole == 0 else float(part / whole))


def wilson(part: int, whole: int, z: float = Z95) -> tuple[float, float]:
    """Give the interval of a share after Wilson (1927); raises ValueError unless 0 <= part <= whole > 0."""
    if not 0 <= part <= whole or whole == 0:
        msg = f"{part} of {whole} is no share."
        raise ValueError(msg)
    p, zz = part / whole, z * z / whole
    middle = (p + zz / 2) / (1 + zz)
    half = z / (1 + zz) * math.sqrt(p * (1 - p) / whole + zz / (4 * whole))
    return max(0.0, middle - half), min(1.0, middle + half)


def poisson_limits(events: int, alpha: float = 0.05) -> tuple[float, float]:
    """Give the exact limits of a Poisson mean from a count (Garwood 1936): 0 gives 0 to 3.689."""
    if events < 0:
        msg = "A count is not negative."
        raise ValueError(msg)
    top = events + 10 * math.sqrt(events + 1) + 10
    high = _crossing(lambda mean: _poisson_cdf(events, mean), alpha / 2, top)
    if events == 0:
        return 0.0, high
    return _crossing(lambda mean: _poisson_cdf(events - 1, mean), 1 - alpha / 2, top), high


def _poisson_cdf(events: int, mean: float) -> float:
    if mean == 0:
        return 1.0
    logs = [count * math.log(mean) - mean - math.lgamma(count + 1) for count in range(events + 1)]
    return math.fsum(math.exp(item) for item in logs)


def _crossing(falling: Callable[[float], float], level: float, top: float) -> float:
    low, high = 0.0, top
    for _ in range(100):
        middle = (low + high) / 2
        if falling(middle) > level:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@dataclass(frozen=True, slots=True)
class Missed:
    """How many faults there are in all, by two independent passes over one area."""

    total: float
    seen: int
    low: float
    high: float


def chapman(first: int, second: int, both: int) -> Missed:
    """Estimate the total from two passes (Chapman 1951), with limits on the unseen part as log-normal.

    The passes must be independent and must each be able to hear the same faults. Symmetric limits
    mislead, because the estimate is skewed. Raises ValueError on counts that contradict each other.
    """
    if not 0 <= both <= min(first, second):
        msg = "What both passes found cannot exceed what either found."
        raise ValueError(msg)
    total = (first + 1) * (second + 1) / (both + 1) - 1
    seen = first + second - both
    variance = (first + 1) * (second + 1) * (first - both) * (second - both) / ((both + 1) ** 2 * (both + 2))
    unseen = total - seen
    if unseen <= 0:
        return Missed(total, seen, float(seen), float(seen))
    spread = math.exp(Z95 * math.sqrt(math.log1p(variance / unseen**2)))
    return Missed(total, seen, seen + unseen / spread, seen + unseen * spread)
