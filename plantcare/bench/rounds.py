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
LEAST_SECONDS: Final = 0.02
"""How long the plain way works in a round, so that another process takes a small part of it."""


@dataclass(frozen=True, slots=True)
class Ratio:
    """Time of the service's way over the plain way's: the median of the rounds and its 95 % interval."""

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

    Before the first round the plain way is timed once, to warm up and to choose how often each is called in a
    round. At least 3 rounds, else ValueError.
    """
    if rounds < 3:
        msg = "a comparison needs at least 3 rounds"
        raise ValueError(msg)
    ours()
    calls = max(1, round(LEAST_SECONDS / max(_seconds(plain, 1, clock), 1e-9)))
    ratios = []
    for count in range(rounds):
        first, second = (plain, ours) if count % 2 else (ours, plain)
        took = {way: _seconds(way, calls, clock) for way in (first, second)}
        ratios.append(took[ours] / took[plain])
    return ratio_of(ratios, seed=seed)


def ratio_of(ratios: Sequence[float], *, seed: int = 1) -> Ratio:
    """Return the median of the rounds' ratios with its percentile bootstrap interval."""
    source = random.Random(seed)
    medians = sorted(median(source.choices(ratios, k=len(ratios))) for _ in range(DRAWS))
    tail = (1.0 - COVERAGE) / 2.0
    low, high = medians[int(tail * DRAWS)], medians[int((1.0 - tail) * DRAWS) - 1]
    return Ratio(median(ratios), low, high, len(ratios))


def _seconds(way: Callable[[], object], calls: int, clock: Callable[[], float]) -> float:
    begun = clock()
    for _ in range(calls):
        way()
    return clock() - begun
