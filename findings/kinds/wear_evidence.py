"""Which readings of a point a wear judgement rests on: its baseline, and the series that compares with it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final, NamedTuple

from findings.physics.wear_baseline import (
    LEAST_READINGS,
    Setting,
    WearReading,
    same_load,
    same_speed,
)
from findings.physics.wear_ladder import SLOW_SPEED_HZ, Step

MOST_OF_BASELINE: Final = 60
"""More readings hardly narrow the limit any further."""
MOST_OF_SERIES: Final = 100
"""So many of the newest comparable readings carry the trend; its work grows with their square."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenLevel:
    """A level by contact probe at one point: which reading, when, and how it was taken.

    ``quiet``: nobody named a fault. ``speed_assumed``: the speed is the machine's rated one. ``severity``:
    what the inspector judged by ear, 1 to 5.
    """

    reading_id: str
    taken_at: datetime
    level: WearReading
    quiet: bool
    speed_assumed: bool = False
    severity: int | None = None


class GoodSince(NamedTuple):
    """From when readings count as those of a good machine, and until when if somebody said so."""

    from_at: datetime
    until_at: datetime | None = None
    id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WearEvidence:
    """All that a judgement of one reading takes. Readings oldest first, all before the judged one.

    ``series`` compares with the judged reading in setting, speed and load; ``others`` counts the readings
    of the baseline's time that don't. ``trend_since`` is the last repair or greasing, if any.
    """

    judged: TakenLevel
    baseline: Sequence[TakenLevel]
    series: Sequence[TakenLevel]
    ladder: Sequence[Step]
    good_since: GoodSince | None = None
    trend_since: datetime | None = None
    others: int = 0
    slow_speed_hz: float = SLOW_SPEED_HZ


def select(
    judged: TakenLevel,
    history: Sequence[TakenLevel],
    *,
    ladder: Sequence[Step],
    good_since: GoodSince | None,
    trend_since: datetime | None = None,
) -> WearEvidence:
    """Choose from a point's history, oldest first, what the judged reading is compared with.

    The baseline is of quiet readings since the machine was known to be good: the first LEAST_READINGS, or
    all until ``good_since.until_at`` where somebody set it. A later rise so never becomes the measure of
    itself. Readings of another instrument, probe, speed or load are left out and counted.
    """
    earlier = [one for one in history if one.taken_at < judged.taken_at]
    since = earlier if good_since is None else [o for o in earlier if o.taken_at >= good_since.from_at]
    alike = [one for one in since if comparable(one.level, judged.level)]
    good = [one for one in alike if one.quiet]
    if good_since is not None and good_since.until_at is not None:
        base = [one for one in good if one.taken_at <= good_since.until_at][:MOST_OF_BASELINE]
    else:
        base = good[:LEAST_READINGS]
    return WearEvidence(
        judged=judged,
        baseline=base,
        series=alike[-MOST_OF_SERIES:],
        ladder=ladder,
        good_since=good_since,
        trend_since=trend_since,
        others=len(since) - len(alike),
    )


def comparable(one: WearReading, other: WearReading) -> bool:
    """Tell whether two levels compare: one setting, speeds and loads within the baseline's tolerance."""
    if one.setting != other.setting or (one.load is None) != (other.load is None):
        return False
    if one.speed_hz is None or other.speed_hz is None:
        return one.speed_hz is None and other.speed_hz is None
    if one.load is not None and other.load is not None and not same_load([other.load] * 2 + [one.load]):
        return False
    return same_speed([other.speed_hz, other.speed_hz, one.speed_hz])


def evidence_to_json(evidence: WearEvidence) -> dict[str, Any]:
    """Return everything a judgement was made from in plain JSON types; each reading once."""
    readings = {one.reading_id: one for one in (*evidence.baseline, *evidence.series, evidence.judged)}
    since = evidence.good_since
    return {
        "reading_id": evidence.judged.reading_id,
        "readings": [_level_to_json(one) for one in readings.values()],
        "baseline_reading_ids": [one.reading_id for one in evidence.baseline],
        "series_reading_ids": [one.reading_id for one in evidence.series],
        "ladder": [step._asdict() for step in evidence.ladder],
        "good_since": None
        if since is None
        else {"id": since.id, "from_at": since.from_at.isoformat(), "until_at": _text(since.until_at)},
        "trend_since": _text(evidence.trend_since),
        "others": evidence.others,
        "slow_speed_hz": evidence.slow_speed_hz,
    }


def evidence_from_json(kept: Mapping[str, Any]) -> WearEvidence:
    """Return the evidence that ``evidence_to_json`` wrote; raises KeyError, TypeError or ValueError."""
    readings = {one["reading_id"]: _level_from_json(one) for one in kept["readings"]}
    since = kept["good_since"]
    return WearEvidence(
        judged=readings[kept["reading_id"]],
        baseline=[readings[key] for key in kept["baseline_reading_ids"]],
        series=[readings[key] for key in kept["series_reading_ids"]],
        ladder=[Step(**step) for step in kept["ladder"]],
        good_since=None
        if since is None
        else GoodSince(datetime.fromisoformat(since["from_at"]), _moment(since["until_at"]), since["id"]),
        trend_since=_moment(kept["trend_since"]),
        others=int(kept["others"]),
        slow_speed_hz=float(kept["slow_speed_hz"]),
    )


def at_rated_speed(taken: TakenLevel, rated_speed_hz: float | None) -> TakenLevel:
    """Return the level with the machine's one rated speed where none was noted; None leaves it open."""
    if taken.level.speed_hz is not None or rated_speed_hz is None:
        return taken
    return replace(taken, level=taken.level._replace(speed_hz=rated_speed_hz), speed_assumed=True)


def _level_to_json(taken: TakenLevel) -> dict[str, Any]:
    return {
        "reading_id": taken.reading_id,
        "taken_at": taken.taken_at.isoformat(),
        "level_db": taken.level.level_db,
        **taken.level.setting._asdict(),
        "speed_hz": taken.level.speed_hz,
        "load_share": taken.level.load,
        "quiet": taken.quiet,
        "speed_assumed": taken.speed_assumed,
        "severity": taken.severity,
    }


def _level_from_json(kept: Mapping[str, Any]) -> TakenLevel:
    setting = Setting(kept["instrument"], kept["probe"], kept["contact"])
    return TakenLevel(
        reading_id=kept["reading_id"],
        taken_at=datetime.fromisoformat(kept["taken_at"]),
        level=WearReading(float(kept["level_db"]), setting, kept["speed_hz"], kept["load_share"]),
        quiet=bool(kept["quiet"]),
        speed_assumed=bool(kept["speed_assumed"]),
        severity=kept["severity"],
    )


def _text(moment: datetime | None) -> str | None:
    return None if moment is None else moment.isoformat()


def _moment(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
