"""Keep recordings, hear them, void wrong ones, and sweep up files that nothing names."""

from findings.recordings.actions.hearing import analyse_recording, analyse_waiting
from findings.recordings.actions.judged import mark_judged
from findings.recordings.actions.keeping import (
    Kept,
    RecordingToldOtherwise,
    TooManyRecordings,
    keep_recording,
)
from findings.recordings.actions.sweeping import sweep_files
from findings.recordings.actions.voiding import RecordingVoid, void_recording

__all__ = [
    "Kept",
    "RecordingToldOtherwise",
    "RecordingVoid",
    "TooManyRecordings",
    "analyse_recording",
    "analyse_waiting",
    "keep_recording",
    "mark_judged",
    "sweep_files",
    "void_recording",
]
