"""Words of the routes room."""

from __future__ import annotations

from enum import StrEnum


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
