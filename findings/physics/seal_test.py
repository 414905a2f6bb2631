"""The seal test by a tone source inside an enclosure: where along its seam the tone comes out.

An enclosure never gets a flow from this test (ASTM E1002, method B), and tight for sound isn't tight for gas.
"""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from findings.physics import uncertainty
from findings.physics.acoustics import BackgroundStatus, correct_background
from findings.physics.estimate import Estimate, Reason
from findings.physics.seam import Peak, Seam, gaps, peaks
from findings.physics.tone_source import (
    LEAST_DROP_DB,
    ROUNDING_DB,
    Criterion,
    SourceCheck,
    Strength,
    amplitude_percent,
    check_source,
    difference,
    level_problems,
    limit_level_db,
    unknown_difference,
)

METHOD = "seal_test"
VERSION = "1"
LARGEST_EXCESS_DB = 6.0
LARGEST_GAP_M = 0.5
LEAST_POINTS = 5
LARGEST_RAISED_SHARE = 0.3
DISTANCE_TOLERANCE = 0.1
UNSTEADY_DB = 3.0


class Verdict(StrEnum):
    """Name what a point or a whole seam has come to."""

    PASS = "pass"  # noqa: S105 - no password
    WATCH = "watch"
    FAIL = "fail"
    NOT_DETERMINED = "not_determined"


class SeamPoint(NamedTuple):
    """A peak-held level at a place along the seam, and the background there if it isn't the common one."""

    position_m: float
    level_db: float
    background_db: float | None = None


@dataclass(frozen=True, kw_only=True)
class Walk:
    """A walk along a seam: the level through the open door, the background with the source off, the points.

    Source, distance and instrument stay the same throughout; give the distances where they are known.
    ``level_u_db`` is the standard uncertainty of one reading.
    """

    seam: Seam
    open_level_db: float
    background_db: float
    points: Sequence[SeamPoint]
    criterion: Criterion = Criterion.AMPLITUDE
    least_drop_db: float = LEAST_DROP_DB
    largest_excess_db: float = LARGEST_EXCESS_DB
    largest_gap_m: float = LARGEST_GAP_M
    level_u_db: float = 1.0
    open_distance_m: float | None = None
    scan_distance_m: float | None = None


class PointResult(NamedTuple):
    """A point without its background: drop from the open level, excess over the intact seam, verdict."""

    position_m: float
    level_db: float
    background: BackgroundStatus
    drop_db: float
    excess_db: float
    amplitude_percent: float
    verdict: Verdict


class SeamLeak(NamedTuple):
    """A place where the tone comes out: its number along the seam, place, level, drop and verdict."""

    number: int
    position: Estimate
    level_db: float
    drop_db: float
    amplitude_percent: float
    verdict: Verdict


@dataclass(frozen=True)
class SealResult:
    """What the walk found; ``smallest_drop`` is the worst point's, refused where nothing was walked."""

    verdict: Verdict
    source: SourceCheck
    smallest_drop: Estimate
    reasons: tuple[Reason, ...]
    intact_level_db: float | None = None
    excess_rule_used: bool | None = None
    points: tuple[PointResult, ...] = ()
    leaks: tuple[SeamLeak, ...] = ()
    gaps: tuple[tuple[float, float], ...] = ()


def seal_test(walk: Walk) -> SealResult:
    """Return what a walk along a seam says: each point, the leaks with their places, the seam as a whole.

    A level over the limit fails; one more than LARGEST_EXCESS_DB over the intact seam (the median) is to be
    watched. A point drowned in background passes if its upper bound does, else it isn't determined; nor is
    a seam with stretches that nobody walked. Where more than 30 % of the points stand out, there is no
    intact seam to compare with, and only the limit counts. Source: level difference with a capped
    background correction as in ISO 16283 (from memory), applied point by point.
    """
    problems = walk_problems(walk)
    source = check_source(
        walk.open_level_db,
        walk.background_db,
        criterion=walk.criterion,
        least_drop_db=walk.least_drop_db,
        level_u_db=walk.level_u_db,
    )
    if problems or source.limit_level_db is None:
        reasons = tuple(dict.fromkeys((*source.reasons, *problems)))
        return SealResult(Verdict.NOT_DETERMINED, source, unknown_difference(reasons), reasons)
    heard = _heard(walk)
    levels = [level for _, level, _ in heard]
    intact = statistics.median(levels)
    comparable = _stands_apart(levels, walk.largest_excess_db)
    ceiling = intact + walk.largest_excess_db if comparable else math.inf
    weak = source.strength is Strength.TOO_WEAK
    points = tuple(
        PointResult(
            place,
            level,
            status,
            walk.open_level_db - level,
            level - intact,
            amplitude_percent(walk.open_level_db - level),
            _verdict(level, status, source.limit_level_db, ceiling, weak=weak),
        )
        for place, level, status in heard
    )
    missing = gaps(walk.seam, [point.position_m for point in points], walk.largest_gap_m)
    return SealResult(
        _whole(points, complete=not missing),
        source,
        _smallest_drop(points, walk),
        (*source.reasons, *_remarks(points, walk, comparable=comparable, complete=not missing)),
        intact,
        comparable,
        points,
        _leaks(walk, points),
        missing,
    )


def walk_problems(walk: Walk) -> tuple[Reason, ...]:
    """Return why a walk can't be judged at all."""
    backgrounds = [point.background_db for point in walk.points if point.background_db is not None]
    numbers = (
        *(walk.open_level_db, walk.background_db, walk.least_drop_db, walk.largest_excess_db),
        *(walk.level_u_db, walk.seam.length_m, walk.largest_gap_m),
        *(number for point in walk.points for number in (point.position_m, point.level_db)),
        *backgrounds,
    )
    problems = list(level_problems(numbers, walk.open_level_db, walk.criterion, walk.least_drop_db))
    if problems:
        return tuple(problems)
    if not (walk.seam.length_m > 0.0 and walk.largest_gap_m > 0.0):
        problems.append(
            Reason("length_not_positive", "The seam's length and the largest gap are above zero.")
        )
    if not all(0.0 <= point.position_m <= walk.seam.length_m for point in walk.points):
        problems.append(Reason("point_off_seam", "A point lies outside the seam; correct its place."))
    elif len(_heard(walk)) < LEAST_POINTS:
        text = f"A seam is judged from at least {LEAST_POINTS} different places; walk all of it."
        problems.append(Reason("too_few_points", text))
    distances = (walk.open_distance_m, walk.scan_distance_m)
    if None not in distances and not _same_distance(*distances):
        text = "The open reading and the walk were at different distances; take both at the same."
        problems.append(Reason("distances_differ", text))
    return tuple(problems)


def _same_distance(one_m: float | None, other_m: float | None) -> bool:
    """Tell whether two distances agree within a tenth."""
    if one_m is None or other_m is None or not (one_m > 0.0 and other_m > 0.0):
        return False
    return abs(one_m - other_m) <= DISTANCE_TOLERANCE * max(one_m, other_m)


def _heard(walk: Walk) -> list[tuple[float, float, BackgroundStatus]]:
    """Return place, level without background and its status, rising along the seam.

    Of several readings within the same millimetre the loudest stays.
    """
    kept: dict[float, tuple[float, float, BackgroundStatus]] = {}
    for point in walk.points:
        background = walk.background_db if point.background_db is None else point.background_db
        level, _, status, _ = correct_background(point.level_db, background)
        place = round(point.position_m, 3)
        if walk.seam.ring and place >= walk.seam.length_m:
            place = 0.0
        if place not in kept or level > kept[place][1]:
            kept[place] = (place, level, status)
    return [kept[place] for place in sorted(kept)]


def _below_background(point: SeamPoint, walk: Walk) -> bool:
    """Tell whether a reading lies so far below its background that the background can't be right."""
    background = walk.background_db if point.background_db is None else point.background_db
    return point.level_db <= background - UNSTEADY_DB


def _stands_apart(levels_db: Sequence[float], excess_db: float) -> bool:
    """Tell whether few enough points are raised for the median to be the intact seam."""
    quartile = statistics.quantiles(levels_db, n=4, method="inclusive")[0]
    raised = sum(level > quartile + excess_db + ROUNDING_DB for level in levels_db)
    return raised <= LARGEST_RAISED_SHARE * len(levels_db)


def _verdict(
    level_db: float, status: BackgroundStatus, limit_db: float, ceiling_db: float, *, weak: bool
) -> Verdict:
    """Return what a point has come to; an upper bound or a weak source never makes a wrong pass."""
    over, raised = level_db > limit_db + ROUNDING_DB, level_db > ceiling_db + ROUNDING_DB
    if status is BackgroundStatus.UPPER_BOUND and (over or raised):
        return Verdict.NOT_DETERMINED
    if over:
        return Verdict.FAIL
    if weak:
        return Verdict.NOT_DETERMINED
    return Verdict.WATCH if raised else Verdict.PASS


def _whole(points: Sequence[PointResult], *, complete: bool) -> Verdict:
    """Return the seam's verdict: the worst of its points, a part not walked between fail and watch."""
    verdicts = {point.verdict for point in points}
    if Verdict.FAIL in verdicts:
        return Verdict.FAIL
    if Verdict.NOT_DETERMINED in verdicts or not complete:
        return Verdict.NOT_DETERMINED
    return Verdict.WATCH if Verdict.WATCH in verdicts else Verdict.PASS


def _leaks(walk: Walk, points: Sequence[PointResult]) -> tuple[SeamLeak, ...]:
    """Return the leaks in order along the seam."""
    raised = [point.verdict in {Verdict.FAIL, Verdict.WATCH} for point in points]
    found = peaks(
        walk.seam, [point.position_m for point in points], [point.level_db for point in points], raised
    )
    return tuple(_leak(number, peak, points, walk) for number, peak in enumerate(found, start=1))


def _leak(number: int, peak: Peak, points: Sequence[PointResult], walk: Walk) -> SeamLeak:
    """Return a peak as a leak with its drop and its point's verdict."""
    drop = walk.open_level_db - peak.level_db
    return SeamLeak(
        number, peak.position, peak.level_db, drop, amplitude_percent(drop), points[peak.point].verdict
    )


def _smallest_drop(points: Sequence[PointResult], walk: Walk) -> Estimate:
    """Return the drop at the loudest point."""
    return difference(walk.open_level_db, max(point.level_db for point in points), walk.level_u_db)


def _remarks(
    points: Sequence[PointResult], walk: Walk, *, comparable: bool, complete: bool
) -> tuple[Reason, ...]:
    """Return what a reader of the result should know."""
    remarks = []
    loudest = max(points, key=lambda point: point.level_db)
    limit = limit_level_db(walk.open_level_db, walk.criterion, walk.least_drop_db)
    if walk.criterion is Criterion.AMPLITUDE:
        text = f"A point fails with a drop below {walk.least_drop_db:g} dB from the open reading."
    else:
        text = "A point fails above a tenth of the number shown through the open door."
    remarks.append(Reason("criterion", text))
    if not comparable:
        text = "Too much of the seam stands out to say what is intact; only the drop was judged."
        remarks.append(Reason("excess_rule_dropped", text))
    if any(point.verdict is Verdict.NOT_DETERMINED for point in points):
        text = "Some points are drowned in the background: quieten the room and walk them again."
        remarks.append(Reason("drowned", text))
    if any(_below_background(point, walk) for point in walk.points):
        text = "Some points were quieter than the background by 3 dB and more: read the background again."
        remarks.append(Reason("background_unsteady", text))
    if not complete:
        text = f"Parts of the seam were not walked; points lie at most {walk.largest_gap_m:g} m apart."
        remarks.append(Reason("not_walked", text))
    if abs(loudest.level_db - limit) < uncertainty.COVERAGE_95 * math.sqrt(2.0) * abs(walk.level_u_db):
        text = "The loudest point lies so near the limit that a repeated walk may decide otherwise."
        remarks.append(Reason("near_limit", text))
    text = "This test speaks of sound only: it gives no flow and doesn't prove tightness for gas or water."
    return (*remarks, Reason("sound_only", text))
