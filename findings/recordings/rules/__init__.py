"""What is taken as a recording, under which names, and what is kept of what was heard."""

from findings.recordings.rules.heard import features_in, lines_in
from findings.recordings.rules.taking import (
    LONGEST_FILE_NAME,
    LONGEST_S,
    MEDIA,
    MOST_BYTES,
    MOST_PER_READING,
    PICTURE_ENDING,
    PICTURE_MEDIA,
    key_of,
    shown_name,
)
from findings.recordings.rules.trying import (
    ANALYSIS_VERSION,
    GAVE_UP,
    MOST_ATTEMPTS,
    NOT_UNDERSTOOD,
    TAMPERED,
    RecordingState,
    state_of,
)

__all__ = [
    "ANALYSIS_VERSION",
    "GAVE_UP",
    "LONGEST_FILE_NAME",
    "LONGEST_S",
    "MEDIA",
    "MOST_ATTEMPTS",
    "MOST_BYTES",
    "MOST_PER_READING",
    "NOT_UNDERSTOOD",
    "PICTURE_ENDING",
    "PICTURE_MEDIA",
    "TAMPERED",
    "RecordingState",
    "features_in",
    "key_of",
    "lines_in",
    "shown_name",
    "state_of",
]
