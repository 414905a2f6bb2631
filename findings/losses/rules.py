"""Words of the losses room."""

from __future__ import annotations

from enum import StrEnum


class SegmentStart(StrEnum):
    """Why a loss begins, or goes on at another rate."""

    FOUND = "found"
    CHANGED = "changed"
    CORRECTED = "corrected"
    PARTLY_REPAIRED = "partly_repaired"
    REPAIR_FAILED = "repair_failed"
    REOPENED = "reopened"
    MERGED = "merged"
    SEPARATED = "separated"


class SegmentEnd(StrEnum):
    """Why a loss ends, or goes on at another rate."""

    CHANGED = "changed"
    REPAIRED = "repaired"
    MERGED = "merged"
    DISMISSED = "dismissed"
    ISOLATED = "isolated"
    DECOMMISSIONED = "decommissioned"
    CLOSED_BY_REASON = "closed_by_reason"
