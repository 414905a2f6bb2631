"""How a recording stands with its analysis, and when trying ends."""

from enum import StrEnum
from typing import Final

from findings.physics.estimate import Reason

ANALYSIS_VERSION: Final = "1"
"""Raised whenever the same file would give another result; then every recording is analysed once more."""

MOST_ATTEMPTS: Final = 3
"""Tries that ended without a word (a killed worker, a limit of time or memory) before no more are made."""

GAVE_UP: Final = Reason(
    "gave_up",
    "The analysis ended three times without a result: it took too long, or the worker was stopped each time. "
    "Record again, shorter.",
)
NOT_UNDERSTOOD: Final = Reason(
    "not_understood", "The analysis failed on this file. The file is kept; a later version may read it."
)
TAMPERED: Final = Reason(
    "file_changed", "The stored file isn't the one that was uploaded. Nothing is told of it."
)


class RecordingState(StrEnum):
    """Where a recording stands."""

    WAITING = "waiting"
    DONE = "done"
    REFUSED = "refused"
    VOID = "void"


def state_of(analysed: str | None, *, is_void: bool) -> RecordingState:
    """Return a recording's state from that of its newest analysis, None without one."""
    if is_void:
        return RecordingState.VOID
    return RecordingState.WAITING if analysed is None else RecordingState(analysed)
