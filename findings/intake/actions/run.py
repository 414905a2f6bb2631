"""The setting of one run."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from findings.intake.actions.report import RowReport
from findings.intake.rules import FileKind, RowVerdict
from findings.plant.models import Site
from plantcare.api.actor import Actor


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Who takes which file at which site, when, and whether doubtful rows count."""

    actor: Actor
    at: datetime
    site: Site
    kind: FileKind
    file_name: str
    accept_doubtful: bool

    def takes(self, report: RowReport) -> bool:
        """Say whether a row is to be written now."""
        if report.verdict is RowVerdict.DOUBTFUL:
            return self.accept_doubtful
        return report.verdict is RowVerdict.TAKEN
