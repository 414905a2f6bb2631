"""Everything that judging the probe readings of a batch of points takes, read at once."""

from __future__ import annotations

import bisect
import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import Any, Final, TypeVar

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Window
from django.db.models.functions import RowNumber

from findings.conditions.models import BearingParticulars, GoodState, Greasing, WearLadder
from findings.conditions.queries.points import particulars_of
from findings.conditions.rules.bearings import Particulars
from findings.conditions.rules.ladders import steps_of
from findings.conditions.rules.probing import ProbeReading, is_judged, taken_level
from findings.kinds.base import Kind
from findings.kinds.wear_evidence import GoodSince, TakenLevel, WearEvidence, at_rated_speed, select
from findings.physics.wear_ladder import Step
from findings.readings.models import Reading
from findings.readings.rules import Attachment

NEWEST: Final = 200
"""So many of a point's newest probe readings are read; more would not change a trend."""
OLDEST: Final = 400
"""So many from the beginning of a good state, in which its baseline is looked for."""
ValueT = TypeVar("ValueT")

BY_PROBE: Final = Q(kind=Kind.MECHANICAL_WEAR) | Q(kind="", attachment=Attachment.CONTACT_PROBE)


class WearBook:
    """The probe readings of some points of one site with what they are judged by: six queries, whatever many.

    A corrected reading doesn't count. Keep it in step with ``add`` and ``forget`` while a batch is taken.
    """

    def __init__(self, site_id: uuid.UUID, point_ids: Collection[uuid.UUID]) -> None:
        mine = {"point_id__in": list(point_ids), "void_at__isnull": True}
        ladders = WearLadder.objects.filter(site_id=site_id, void_at__isnull=True).order_by("from_at")
        self._ladders = [(row.from_at, steps_of(row.steps)) for row in ladders]
        bearings = BearingParticulars.objects.filter(**mine).order_by("from_at")
        self._bearings = _by_point((row.point_id, (row.from_at, particulars_of(row))) for row in bearings)
        states = GoodState.objects.filter(**mine).order_by("from_at")
        self._states = _by_point((row.point_id, (row.from_at, row)) for row in states)
        greased = Greasing.objects.filter(**mine).order_by("at")
        self._greased = _by_point((row.point_id, (row.at, row.at)) for row in greased.only("point_id", "at"))
        self._taken: dict[uuid.UUID, list[TakenLevel]] = defaultdict(list)
        for row in self._rows(list(point_ids)):
            self._taken[row.point_id].append(self.level(row))

    def add(self, reading: Reading) -> None:
        """Remember a reading that was kept."""
        if is_judged(reading):
            self.forget(reading)
            taken = self._taken[reading.point_id]
            bisect.insort(taken, self.level(reading), key=lambda one: one.taken_at)

    def newest_id(self, point_id: uuid.UUID) -> str | None:
        """Return the id of a point's newest probe reading; None where there is none."""
        taken = self._taken[point_id]
        return taken[-1].reading_id if taken else None

    def forget(self, reading: Reading) -> None:
        """Leave out a reading that was corrected."""
        kept = [one for one in self._taken[reading.point_id] if one.reading_id != str(reading.pk)]
        self._taken[reading.point_id] = kept

    def evidence(self, reading: Reading, *, repaired_at: datetime | None = None) -> WearEvidence:
        """Return what a reading is judged by; ``repaired_at`` is the point's last repair before it."""
        greased_at = _in_force(self._greased[reading.point_id], reading.taken_at)
        since = [moment for moment in (greased_at, repaired_at) if moment is not None]
        return select(
            self.level(reading),
            self._taken[reading.point_id],
            ladder=self.ladder(reading.taken_at),
            good_since=self.good_since(reading.point_id, reading.taken_at),
            trend_since=max(since, default=None),
        )

    def ladder(self, at: datetime) -> Sequence[Step]:
        """Return the site's ladder of a moment: its own, or the usual one."""
        return _in_force(self._ladders, at) or steps_of(None)

    def good_since(self, point_id: uuid.UUID, at: datetime) -> GoodSince | None:
        """Return since when a point's readings count as good for a moment; None if nobody said so."""
        row = _in_force(self._states[point_id], at)
        return None if row is None else GoodSince(row.from_at, row.until_at, str(row.pk))

    def particulars(self, point_id: uuid.UUID, at: datetime) -> Particulars | None:
        """Return what is known of a point's bearing for a moment."""
        return _in_force(self._bearings[point_id], at)

    def level(self, row: ProbeReading) -> TakenLevel:
        """Return a reading as the judgement takes it, at the rated speed where none was noted."""
        known = self.particulars(row.point_id, row.taken_at)
        rated = None if known is None or known.speed_varies is not False else known.shaft_speed_hz
        return at_rated_speed(taken_level(row), rated)

    def _rows(self, point_ids: list[uuid.UUID]) -> list[Reading]:
        """Return the points' newest probe readings and those their baselines begin with, oldest first."""
        rows = probe_readings().filter(point_id__in=point_ids)
        found = {row.pk: row for row in _ranked(rows, "-taken_at", NEWEST)}
        begun = Q(pk__in=[])
        for point_id, states in self._states.items():
            begun |= Q(point_id=point_id, taken_at__gte=states[-1][0])
        found |= {row.pk: row for row in _ranked(rows.filter(begun), "taken_at", OLDEST)}
        return sorted(found.values(), key=lambda row: (row.taken_at, row.pk))


def probe_readings() -> QuerySet[Reading]:
    """Return every reading by contact probe that can be judged, but for those that were corrected."""
    corrected = Reading.objects.filter(corrects_id=OuterRef("pk"))
    rows = Reading.objects.filter(BY_PROBE, ~Exists(corrected), level_db__isnull=False)
    return rows.exclude(greasing="during")


def _ranked(rows: QuerySet[Reading], order: str, most: int) -> QuerySet[Any]:
    newest_first = order.startswith("-")
    taken_at = F("taken_at").desc() if newest_first else F("taken_at").asc()
    rank = Window(RowNumber(), partition_by=[F("point_id")], order_by=[taken_at, F("id").asc()])
    return rows.annotate(rank=rank).filter(rank__lte=most)


def _by_point(
    pairs: Iterable[tuple[uuid.UUID, tuple[datetime, ValueT]]],
) -> defaultdict[uuid.UUID, list[tuple[datetime, ValueT]]]:
    found: defaultdict[uuid.UUID, list[tuple[datetime, ValueT]]] = defaultdict(list)
    for point_id, pair in pairs:
        found[point_id].append(pair)
    return found


def _in_force(dated: Sequence[tuple[datetime, ValueT]], at: datetime) -> ValueT | None:
    """Return the value whose moment came last, of those in order that began by ``at``."""
    count = bisect.bisect_right(dated, at, key=lambda pair: pair[0])
    return dated[count - 1][1] if count else None
