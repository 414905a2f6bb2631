"""The report of a file, row by row, and what a run does with each row."""

from __future__ import annotations

import uuid
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from findings.intake.rules import Note, ReadRow, RowVerdict


@dataclass(slots=True)
class RowReport:
    """What became of one row: its verdict, why, and what it made."""

    row: int
    verdict: RowVerdict
    notes: list[Note] = field(default_factory=list)
    outcome: str = ""
    made_kind: str = ""
    made_id: uuid.UUID | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the row as the API shows it."""
        return {
            "row": self.row,
            "verdict": self.verdict.value,
            "notes": [asdict(note) for note in self.notes],
            "outcome": self.outcome,
            "made_kind": self.made_kind,
            "made_id": str(self.made_id) if self.made_id else None,
        }


def report_of(row: ReadRow) -> RowReport:
    """Begin a row's report with what reading it told."""
    return RowReport(row.number, row.verdict, [*row.refusals, *row.doubts])


def counts_of(reports: Sequence[RowReport]) -> dict[str, int]:
    """Count the rows by verdict, every verdict named."""
    counted = Counter(report.verdict.value for report in reports)
    return {verdict.value: counted.get(verdict.value, 0) for verdict in RowVerdict}


def refuse(report: RowReport, code: str, text: str, column: str = "") -> None:
    """Turn a row down, with a reason."""
    report.verdict = RowVerdict.REFUSED
    report.notes.append(Note(column, code, text))


def doubt(report: RowReport, code: str, text: str, column: str = "") -> None:
    """Mark a row as one that a person should look at before it counts."""
    if report.verdict is RowVerdict.TAKEN:
        report.verdict = RowVerdict.DOUBTFUL
    report.notes.append(Note(column, code, text))
