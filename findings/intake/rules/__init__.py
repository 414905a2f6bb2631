"""The rules of the intake room: how a cell is read, what a column means, what becomes of a row."""

from enum import StrEnum

from findings.intake.rules.columns import (
    DEFAULT_MAPPING,
    ColumnMapping,
    ColumnRule,
    MappingProblem,
    mapping_for_headers,
    mapping_from_json,
)
from findings.intake.rules.fields import FIELDS, FileKind
from findings.intake.rules.rows import Note, ReadRow, RowVerdict, read_row

__all__ = [
    "DEFAULT_MAPPING",
    "FIELDS",
    "ColumnMapping",
    "ColumnRule",
    "FileKind",
    "MappingProblem",
    "Note",
    "ReadRow",
    "RowVerdict",
    "Strictness",
    "mapping_for_headers",
    "mapping_from_json",
    "read_row",
]


class Strictness(StrEnum):
    """Whether one bad row stops the whole file."""

    ALL_OR_NOTHING = "all_or_nothing"
    GOOD_ROWS = "good_rows"
