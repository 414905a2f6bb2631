"""Does an instrument's calibration still hold?"""

from __future__ import annotations

from datetime import date


def is_overdue(due_on: date | None, on: date) -> bool:
    """Tell whether a calibration ran out before a day; the due day itself still counts as held."""
    return due_on is not None and on > due_on


def calibration_warning(due_on: date | None, on: date) -> str:
    """Return what a reader of this instrument's readings should know, or nothing."""
    if due_on is None:
        return "No calibration date is recorded for this instrument."
    if is_overdue(due_on, on):
        return f"The calibration ran out on {due_on.isoformat()}; readings since then are marked."
    return ""
