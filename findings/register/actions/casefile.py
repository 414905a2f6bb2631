"""Everything the register knows at the measuring points of a batch, read at once and kept in step."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from django.db.models import QuerySet

from findings.conditions.queries import WearBook
from findings.kinds.base import Medium
from findings.logbook.actions import Act
from findings.readings.actions import Book
from findings.register.actions.evidence import Surroundings
from findings.register.models import Evidence, Finding, FindingCounter
from findings.register.rules import OPEN_STATUSES, EvidenceRole, FindingStatus
from findings.supply import queries as supply
from findings.supply.models import SupplySystem

Outcome = Literal["found", "heard_again", "after_repair", "reopened", "quiet", "corrected", "known"]
"""What a reading came to."""


@dataclass(slots=True)
class Draft:
    """What one reading brought about so far; kept only when the reading is."""

    acts: list[Act] = field(default_factory=list)
    numbers: int = 0


class Casefile:
    """The findings at the points of a batch, the systems that feed them and the next finding number."""

    def __init__(self, book: Book, at: datetime) -> None:
        self.book, self.at = book, at
        self.by_point: dict[uuid.UUID, dict[uuid.UUID, Finding]] = defaultdict(dict)
        self._systems: dict[tuple[uuid.UUID, Medium], SupplySystem | None] = {}
        self._last_number: int | None = None
        self._given = 0
        self._wear: WearBook | None = None
        self.reload(book.points.keys())

    def reload(self, point_ids: Collection[uuid.UUID]) -> None:
        """Read, and hold, the findings at these points.

        Called again after a savepoint was rolled back. If no number was kept before, the counter's
        lock (and its row, at a site's first finding) went with it: it is taken anew when next needed.
        """
        if not self._given:
            self._last_number = None
        self._wear = None
        for point_id in point_ids:
            self.by_point[point_id] = {}
        for finding in self._held(Finding.objects.filter(point_id__in=point_ids)):
            self.by_point[finding.point_id][finding.pk] = finding

    @property
    def wear(self) -> WearBook:
        """Return the probe readings of the batch's points, read when the first of them is to be judged."""
        if self._wear is None:
            self._wear = WearBook(self.book.survey.site_id, self.book.points.keys())
        return self._wear

    def open_at(self, point_id: uuid.UUID) -> list[Finding]:
        """Return the open findings of a point."""
        return [found for found in self.by_point[point_id].values() if found.status in OPEN_STATUSES]

    def known_at(self, point_id: uuid.UUID, kind: str) -> Finding | None:
        """Return the finding a new reading of this kind has to be matched with, if any.

        An open one; else the open survivor that took one over; else the last one that was closed.
        """
        mine = [found for found in self.by_point[point_id].values() if found.kind == kind]
        for found in mine:
            if found.status in OPEN_STATUSES:
                return found
        for found in sorted(mine, key=_newest_first):
            survivor = self._survivor(found)
            if survivor is not None:
                return survivor
        closed = [found for found in mine if found.status == FindingStatus.CLOSED]
        return min(closed, key=_newest_first, default=None)

    def of_reading(self, reading_id: uuid.UUID) -> list[tuple[Finding, EvidenceRole]]:
        """Return the findings that a reading speaks for, with what it does for each."""
        rows = list(Evidence.objects.filter(reading_id=reading_id).order_by("recorded_at", "id"))
        held = {
            found.pk: found
            for found in self._held(Finding.objects.filter(pk__in=[r.finding_id for r in rows]))
        }
        for found in held.values():
            self.by_point[found.point_id][found.pk] = found
        return [(held[row.finding_id], EvidenceRole(row.role)) for row in rows]

    def around(self, asset_id: uuid.UUID, medium: Medium | None) -> Surroundings:
        """Return what an assessment needs beside the reading."""
        return Surroundings(site=self.book.site, medium=medium, system=self.system(asset_id, medium))

    def system(self, asset_id: uuid.UUID, medium: Medium | None) -> SupplySystem | None:
        """Return the supply system that feeds an asset with a medium."""
        if medium is None:
            return None
        if (asset_id, medium) not in self._systems:
            self._systems[asset_id, medium] = supply.system_feeding(asset_id, medium)
        return self._systems[asset_id, medium]

    def keep(self, finding: Finding) -> None:
        """Remember a finding that was made or changed."""
        self.by_point[finding.point_id][finding.pk] = finding

    def next_number(self, draft: Draft) -> int:
        """Return the number of the next finding; it counts only once the draft is kept."""
        if self._last_number is None:
            site_id = self.book.survey.site_id
            FindingCounter.objects.bulk_create([FindingCounter(site_id=site_id)], ignore_conflicts=True)
            self._last_number = FindingCounter.objects.select_for_update().get(pk=site_id).last_number
        draft.numbers += 1
        return self._last_number + self._given + draft.numbers

    def keep_numbers(self, draft: Draft) -> None:
        """Count the numbers that a kept draft took."""
        self._given += draft.numbers

    def close(self) -> None:
        """Write the last number given."""
        if self._last_number is not None and self._given:
            last_number = self._last_number + self._given
            FindingCounter.objects.filter(pk=self.book.survey.site_id).update(last_number=last_number)

    def _survivor(self, found: Finding) -> Finding | None:
        """Return the open finding that a merged one became a part of, however many merges later."""
        while found.merged_into_id is not None:
            survivor = self._held(Finding.objects.filter(pk=found.merged_into_id)).first()
            if survivor is None:
                return None
            found = survivor
        return found if found.status in OPEN_STATUSES else None

    def _held(self, rows: QuerySet[Finding]) -> QuerySet[Finding]:
        return rows.select_for_update(of=("self",), no_key=True).order_by("pk")


def _newest_first(found: Finding) -> tuple[float, int]:
    return (-found.found_at.timestamp(), -found.number)
