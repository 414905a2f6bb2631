"""When the readings of a point count as those of a good machine."""

from enum import StrEnum
from typing import Final


class GoodCause(StrEnum):
    """Why readings count as good from a moment on; grease is none, it doesn't make a bearing new."""

    NEW_BEARING = "new_bearing"
    NEW_POINT = "new_point"
    CONFIRMED_GOOD = "confirmed_good"


SHORTEST_REASON: Final = 10


def reason_is_written(reason: str) -> bool:
    """Tell whether a reason says anything: at least ten characters."""
    return len(reason.strip()) >= SHORTEST_REASON
