"""What the background adds to a level at a seam, and how far the level may be believed without it."""

import math
from enum import StrEnum
from typing import NamedTuple

NONE_ABOVE_DB = 10.0
CAP_BELOW_DB = 3.0
"""The survey grade: nothing taken off above 10 dB, never more than at 3 dB (ISO 3746, from memory)."""


class BackgroundStatus(StrEnum):
    """Say what became of the background: nothing to take off, taken off, or too loud to know."""

    NONE = "none"
    CORRECTED = "corrected"
    UPPER_BOUND = "upper_bound"


class Corrected(NamedTuple):
    """A level without its background, what was taken off, and how far to believe it."""

    level_db: float
    correction_db: float
    status: BackgroundStatus


def correct_background(level_db: float, background_db: float) -> Corrected:
    """Return the level of the source alone: K1 = -10 lg(1 - 10^(-dL/10)) is taken off.

    A background nearer than 3 dB leaves an upper bound, which may pass a seal but never fail one.
    """
    difference = level_db - background_db
    if difference > NONE_ABOVE_DB:
        return Corrected(level_db, 0.0, BackgroundStatus.NONE)
    correction = -10.0 * math.log10(-math.expm1(-max(difference, CAP_BELOW_DB) * math.log(10.0) / 10.0))
    status = BackgroundStatus.CORRECTED if difference >= CAP_BELOW_DB else BackgroundStatus.UPPER_BOUND
    return Corrected(level_db - correction, correction, status)
