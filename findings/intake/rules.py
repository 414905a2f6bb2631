"""Words of the intake room."""

from __future__ import annotations

from enum import StrEnum


class FileKind(StrEnum):
    """What a file carries."""

    SURVEY = "survey"
    REGISTER = "register"


class Strictness(StrEnum):
    """Whether one bad row stops the whole file."""

    ALL_OR_NOTHING = "all_or_nothing"
    GOOD_ROWS = "good_rows"


class RowVerdict(StrEnum):
    """What becomes of a row."""

    TAKEN = "taken"
    DOUBTFUL = "doubtful"
    REFUSED = "refused"
    KNOWN = "known"
    BLANK = "blank"
