"""When a release of an opening is in force, and what it has to say."""

from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

SHORTEST_REASON: Final = 10
"""Characters that a written ground needs at least (our judgement)."""

LONGEST_RELEASE: Final = timedelta(days=31)
"""A release speaks of the equipment as it was examined; after a month, look again (our judgement)."""

LONGEST_QUALIFICATION: Final = timedelta(days=3 * 366)
"""NFPA 70E asks for retraining at intervals of at most three years (from memory)."""


class Technique(StrEnum):
    """By what else than ultrasound the equipment was examined before its opening was released."""

    THERMOGRAPHY = "thermography"
    ULTRAVIOLET_CAMERA = "ultraviolet_camera"
    ELECTRICAL_MEASUREMENT = "electrical_measurement"
    RADIO_FREQUENCY = "radio_frequency"
    DEAD_AND_PROVEN = "dead_and_proven"
    OTHER = "other"


class ReleaseState(StrEnum):
    """Where a release stands at a moment."""

    IN_FORCE = "in_force"
    LAPSED = "lapsed"
    WITHDRAWN = "withdrawn"
    VOID = "void"


def state_of(
    moment: datetime,
    *,
    at: datetime,
    until_at: datetime,
    void_at: datetime | None,
    discharge_recorded_at: datetime | None,
) -> ReleaseState:
    """Return where a release stands; ``discharge_recorded_at`` is when the newest discharge was judged.

    Whatever discharge is judged after a release withdraws it.
    """
    if void_at is not None:
        return ReleaseState.VOID
    if discharge_recorded_at is not None and discharge_recorded_at > at:
        return ReleaseState.WITHDRAWN
    return ReleaseState.LAPSED if moment >= until_at else ReleaseState.IN_FORCE
