"""Compare two ways of doing the same work in paired rounds, so that a busy machine flatters neither."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median
from time import perf_counter
from typing import Final

DRAWS: Final = 2000
COVERAGE: Final = 0.95


@dataclass(frozen=True, slots=True)
class Ratio:
    """Time of the service's way over time of the plain way: the median of the rounds and its 95 % interval."""

    value: float
    low: float
    high: float
    rounds: int


def compare(
    plain: Callable[[], object],
    ours: Callable[[], object],
    *,
    rounds: int = 25,
    seed: int = 1,
    clock: Callable[[], float] = perf_counter,
) -> Ratio:
    """Time both in every round, in turn first, and return the ratio ours over plain.

    One round before the first warms both up and doesn't count. At least 3 rounds, else ValueError.
    """
    if rounds < 3:
        msg = "a comparison needs at least 3 rounds"
        raise ValueError(msg)
    ratios = []
    for count in range(rounds + 1):
        first, second = (plain, ours) if count % 2 else (ours, plain)
        took = {way: _seconds(way, clock) for way in (first, second)}
        if count:
            ratios.append(took[ours] / took[plain])
    return ratio_of(ratios, seed=seed)


def ratio_of(ratios: Sequence[float], *, seed: int = 1) -> Ratio:
    """Return the median of the rounds' ratios with its percentile bootstrap interval."""
    source = random.Random(seed)
    medians = sorted(median(source.choices(ratios, k=len(ratios))) for _ in range(DRAWS))
    tail = (1.0 - COVERAGE) / 2.0
    low, high = medians[int(tail * DRAWS)], medians[int((1.0 - tail) * DRAWS) - 1]
    return Ratio(median(ratios), low, high, len(ratios))


def _seconds(way: Callable[[], object], clock: Callable[[], float]) -> float:
    begun = clock()
    way()
    return clock() - begun
