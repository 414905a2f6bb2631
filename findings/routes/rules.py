"""Words of the routes room, and which visit a reading answers."""

from __future__ import annotations

from datetime import date, timedelta
from enum import StrEnum
from typing import Final


class VisitReason(StrEnum):
    """Why a point is to be visited."""

    PERIODIC = "periodic"
    AFTER_REPAIR = "after_repair"
    VERIFICATION = "verification"
    REQUESTED = "requested"


class VisitState(StrEnum):
    """Where a visit request stands."""

    WANTED = "wanted"
    DONE = "done"
    DROPPED = "dropped"


EARLY: Final = timedelta(days=14)
"""How much before its day a visit still counts as the one that was wanted (our own choice)."""

TIMED = frozenset({VisitReason.PERIODIC, VisitReason.AFTER_REPAIR})
"""Visits that are about time passing: coming at once proves nothing."""


def answers(reason: VisitReason | str, due_on: date, on: date) -> bool:
    """Tell whether a reading of a day is the visit that was wanted by ``due_on``.

    A verification or a plain request is answered by the next reading. A periodic visit, or another look
    some time after a repair, is answered only near its day or later.
    """
    return reason not in TIMED or on >= due_on - EARLY
