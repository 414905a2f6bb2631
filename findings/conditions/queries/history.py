"""Read how a point's level went: each probe reading beside the baseline, and what the last one says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from findings.conditions.queries.wear_book import WearBook, probe_readings
from findings.conditions.rules.bearings import frequencies_of
from findings.conditions.rules.probing import is_judged
from findings.kinds.condition import ConditionFound
from findings.kinds.wear_condition import wear_condition
from findings.physics.defect_frequencies import DefectFrequencies
from findings.physics.wear_ladder import Step
from findings.plant.models import MeasuringPoint
from findings.readings.models import Reading

MOST_SHOWN = 200


@dataclass(frozen=True, slots=True)
class WearLine:
    """A reading of the history: whether it belongs to the baseline, compares with it, and how far it rose."""

    reading: Reading
    in_baseline: bool
    compares: bool
    rise_db: float | None


@dataclass(frozen=True, slots=True)
class WearHistory:
    """A point's probe readings, oldest first, judged as they stand now by the newest of them.

    ``found`` is None where the point has no probe reading. ``frequencies`` are where the rhythms of a
    damaged bearing lie at the newest reading's speed, None where the particulars don't tell.
    """

    point: MeasuringPoint
    lines: list[WearLine]
    found: ConditionFound | None
    ladder: Sequence[Step]
    frequencies: DefectFrequencies | None


def found_of(reading: Reading, repaired_at: datetime | None = None) -> ConditionFound | None:
    """Judge a reading by what is known now, nothing written; None where its level isn't judged.

    ``repaired_at`` is the point's last repair before it: its trend begins there.
    """
    if not is_judged(reading):
        return None
    book = WearBook(reading.site_id, [reading.point_id])
    return wear_condition(book.evidence(reading, repaired_at=repaired_at))


def wear_history(point: MeasuringPoint, at: datetime) -> WearHistory:
    """Return a point's history by what is known now; the newest MOST_SHOWN readings, nothing is written."""
    newest_first = probe_readings().filter(point_id=point.pk).order_by("-taken_at", "-id")
    readings = list(reversed(newest_first.select_related("instrument")[:MOST_SHOWN]))
    book = WearBook(point.site_id, [point.pk])
    if not readings:
        return WearHistory(point, [], None, book.ladder(at), _frequencies(book, point, at, None))
    last = readings[-1]
    evidence = book.evidence(last)
    found = wear_condition(evidence)
    mean_db = found.figures["baseline"]["mean_db"]
    base = {one.reading_id for one in evidence.baseline}
    alike = {one.reading_id for one in evidence.series} | base | {evidence.judged.reading_id}
    lines = [_line(reading, base, alike, mean_db) for reading in readings]
    speed_hz = evidence.judged.level.speed_hz
    rhythms = _frequencies(book, point, last.taken_at, speed_hz)
    return WearHistory(point, lines, found, evidence.ladder, rhythms)


def _line(reading: Reading, base: set[str], alike: set[str], mean_db: float | None) -> WearLine:
    compares = str(reading.pk) in alike
    rise = None
    if compares and mean_db is not None and reading.level_db is not None:
        rise = reading.level_db - mean_db
    return WearLine(reading, str(reading.pk) in base, compares, rise)


def _frequencies(
    book: WearBook, point: MeasuringPoint, at: datetime, speed_hz: float | None
) -> DefectFrequencies | None:
    known = book.particulars(point.pk, at)
    return None if known is None else frequencies_of(known, speed_hz)
