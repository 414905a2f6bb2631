"""A seam as a line or a ring: which parts were walked, and where along it a sound peaks."""

import itertools
import math
from collections.abc import Sequence
from typing import NamedTuple

from findings.physics.estimate import Estimate, Status
from findings.physics.uncertainty import rectangular

METHOD = "peak_along_seam"
VERSION = "1"
DIP_DB = 3.0
"""Two peaks count as two leaks when the level between falls this far below the lower one (judgement)."""
HIGHEST_TOP_DB = 3.0
"""How far above the highest reading a peak between the points may lie (judgement)."""


class Seam(NamedTuple):
    """A seam of a length in m; a ring ends where it begins."""

    length_m: float
    ring: bool


class Peak(NamedTuple):
    """A local maximum: its point's number from 0, its place in m with the interval, its level in dB."""

    point: int
    position: Estimate
    level_db: float


def gaps(seam: Seam, positions_m: Sequence[float], largest_m: float) -> tuple[tuple[float, float], ...]:
    """Return the stretches longer than ``largest_m`` that no point covers, as (from, to) in m.

    ``positions_m`` rise. On a ring the last stretch runs over its beginning, so "to" is below "from". At an
    end of a line half of ``largest_m`` is covered by the outermost point.
    """
    if not positions_m:
        return ((0.0, seam.length_m),)
    pairs = itertools.pairwise(positions_m)
    found = [(start, end) for start, end in pairs if _exceeds(end - start, largest_m)]
    first, last = positions_m[0], positions_m[-1]
    if seam.ring:
        return (*found, (last, first)) if _exceeds(first + seam.length_m - last, largest_m) else tuple(found)
    before = [(0.0, first)] if _exceeds(first, largest_m / 2.0) else []
    after = [(last, seam.length_m)] if _exceeds(seam.length_m - last, largest_m / 2.0) else []
    return (*before, *found, *after)


def peaks(
    seam: Seam, positions_m: Sequence[float], levels_db: Sequence[float], raised: Sequence[bool]
) -> tuple[Peak, ...]:
    """Return the local maxima among the raised points, in order along the seam.

    ``positions_m`` rise; the three lists are of one length. Within a run of raised points a second peak
    counts only beyond a dip of DIP_DB. The place is the top of the parabola in dB through the peak and
    its neighbours, evenly spaced or not; at the end of a line it is the end's point.
    """
    runs = _runs(raised, ring=seam.ring)
    if seam.ring and raised and all(raised):
        quietest = min(runs[0], key=lambda place: levels_db[place])
        runs = [runs[0][quietest:] + runs[0][:quietest]]
    found = [index for run in runs for index in _tops(run, [levels_db[place] for place in run])]
    return tuple(_peak(seam, positions_m, levels_db, index) for index in sorted(found))


def _exceeds(stretch_m: float, largest_m: float) -> bool:
    """Tell whether a stretch is longer than allowed, forgiving rounding."""
    return stretch_m > largest_m * (1.0 + 1e-9)


def _runs(raised: Sequence[bool], *, ring: bool) -> list[list[int]]:
    """Return the runs of neighbouring raised points; on a ring one may run over the beginning."""
    runs: list[list[int]] = []
    for index, up in enumerate(raised):
        if up and index and raised[index - 1]:
            runs[-1].append(index)
        elif up:
            runs.append([index])
    if ring and len(runs) > 1 and raised[0] and raised[-1]:
        runs[0] = runs.pop() + runs[0]
    return runs


def _tops(run: Sequence[int], levels_db: Sequence[float]) -> list[int]:
    """Return the indices of a run's peaks, each parted from every higher one by a dip."""
    tops: list[int] = []
    for place in sorted(range(len(run)), key=lambda i: -levels_db[i]):
        between = (levels_db[min(place, top) : max(place, top) + 1] for top in tops)
        if all(min(stretch) <= levels_db[place] - DIP_DB for stretch in between):
            tops.append(place)
    return [run[place] for place in tops]


def _peak(seam: Seam, positions_m: Sequence[float], levels_db: Sequence[float], index: int) -> Peak:
    """Return the peak round a point, with the stretch between its neighbours as interval."""
    count, here = len(positions_m), positions_m[index]
    before, after = (index - 1) % count, (index + 1) % count
    low, high = positions_m[before], positions_m[after]
    if seam.ring:
        low -= seam.length_m if before >= index else 0.0
        high += seam.length_m if after <= index else 0.0
    else:
        low, high = min(low, here), max(high, here)
    top, level = here, levels_db[index]
    if low < here < high:
        left, right = levels_db[before], levels_db[after]
        top, level = _parabola_top((low, left), (here, level), (high, right))
    turn = math.floor(top / seam.length_m) * seam.length_m if seam.ring else 0.0
    position = Estimate(
        value=top - turn,
        u=rectangular((high - low) / 2.0),
        low=low - turn,
        high=high - turn,
        unit="m",
        method=METHOD,
        method_version=VERSION,
        status=Status.ESTIMATED,
    )
    return Peak(index, position, level)


def _parabola_top(
    left: tuple[float, float], middle: tuple[float, float], right: tuple[float, float]
) -> tuple[float, float]:
    """Return place and level of the top of the parabola through three points.

    The middle point where there is no top between the outer two, or one so high that the three points lie
    too unevenly to tell.
    """
    (x1, y1), (x2, y2), (x3, y3) = left, middle, right
    rise, fall = (y2 - y1) / (x2 - x1), (y3 - y2) / (x3 - x2)
    bend = (fall - rise) / (x3 - x1)
    if not bend < -1e-12:
        return middle
    top = (x1 + x2) / 2.0 - rise / (2.0 * bend)
    if not x1 < top < x3:
        return middle
    level = y1 + rise * (top - x1) + bend * (top - x1) * (top - x2)
    return (top, level) if level <= y2 + HIGHEST_TOP_DB else middle
