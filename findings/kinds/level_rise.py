"""Whether the level at one spot has risen against earlier readings of the same instrument and distance.

The limits are our judgement: 6 dB is twice the sound pressure, more than a detector held otherwise makes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from statistics import median
from typing import Final

RISEN_DB: Final = 6.0
RISES_IN_A_ROW: Final = 3


class LevelTrend(StrEnum):
    """How a level stands against earlier ones."""

    RISING = "rising"
    NOT_RISING = "not rising"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class LevelRise:
    """The trend, the rise over the median of the earlier levels in dB, and how many those were."""

    trend: LevelTrend = LevelTrend.UNKNOWN
    rise_db: float | None = None
    compared: int = 0


def level_rise(level_db: float | None, earlier_db: Sequence[float]) -> LevelRise:
    """Return how a level stands against earlier ones that compare with it, oldest first.

    Rising is 6 dB above their median, or three rises in a row that make 6 dB together, so that a slow creep
    isn't lost in its own median. Without a level or anything earlier nothing can be told.
    """
    if level_db is None or not earlier_db:
        return LevelRise()
    rise_db = level_db - median(earlier_db)
    last = [*earlier_db, level_db][-RISES_IN_A_ROW - 1 :]
    creeps = (
        len(last) > RISES_IN_A_ROW
        and all(later > before for before, later in pairwise(last))
        and last[-1] - last[0] >= RISEN_DB
    )
    trend = LevelTrend.RISING if rise_db >= RISEN_DB or creeps else LevelTrend.NOT_RISING
    return LevelRise(trend, rise_db, len(earlier_db))
