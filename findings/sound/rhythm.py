"""Rhythmic, irregular or smooth; and which part of a bearing beats at a rhythm, from numbers alone."""

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final, NamedTuple

from findings.physics.estimate import Reason

VERSION: Final = "1"
LOWEST_HZ: Final = 2.0
HIGHEST_HZ: Final = 600.0
KURTOSIS_OF_IMPACTS: Final = 4.5
SEARCH_SHARE: Final = 0.02
HIGHEST_ORDER: Final = 5
NARROWEST_HZ: Final = 0.75  # judgement: three quarters of a bin of 1 Hz
DIVISION_HZ: Final = 0.3  # judgement: how well a line's frequency is known, and how its error grows
DIVISION_HZ_PER_ORDER: Final = 0.05


class Line(NamedTuple):
    """A line of an envelope spectrum: where it is, and how far it stands above its surroundings."""

    frequency_hz: float
    above_floor_db: float


class Character(StrEnum):
    """What a recording sounds like."""

    RHYTHMIC = "rhythmic"
    IRREGULAR = "irregular impacts"
    SMOOTH = "smooth"
    UNDETERMINED = "not determined"


class Match(StrEnum):
    """Whether a part's frequency was heard."""

    FOUND = "found"
    HIGHER_ORDERS = "only higher orders"
    ANOTHERS = "only lines of another part"
    NOT_FOUND = "not found"


@dataclass(frozen=True, slots=True)
class Harmonic:
    """A line at a multiple of a part's frequency; ``sidebands`` counts lines a spacing beside it, 0 to 2."""

    order: int
    frequency_hz: float
    above_floor_db: float
    sidebands: int


@dataclass(frozen=True, slots=True)
class Hit:
    """What was found of one part; ``fits_as_well`` names other parts that the same fundamental would fit."""

    name: str
    frequency_hz: float
    low_hz: float
    high_hz: float
    match: Match
    harmonics: tuple[Harmonic, ...]
    fits_as_well: tuple[str, ...] = ()


def fundamental_hz(lines: Sequence[Line]) -> float | None:
    """Return the lowest line that divides the strongest, or None without lines.

    A line so low that any frequency would be near one of its multiples divides nothing.
    """
    if not lines:
        return None
    strongest = max(lines, key=lambda line: line.above_floor_db).frequency_hz
    for line in sorted(lines):
        order = round(strongest / line.frequency_hz)
        allowed = DIVISION_HZ + DIVISION_HZ_PER_ORDER * order
        divides = abs(strongest - order * line.frequency_hz) <= allowed
        if order >= 1 and divides and allowed <= line.frequency_hz / 4.0:
            return line.frequency_hz
    return strongest


def character(lines: Sequence[Line], kurtosis: float | None) -> tuple[Character, tuple[Reason, ...]]:
    """Return what the recording sounds like, and why; ``kurtosis`` is None where it was refused.

    Damage that spreads lowers the kurtosis again, and noise hides it: smooth never means sound.
    """
    if lines:
        rhythm = f"the rhythm is {fundamental_hz(lines):.1f} Hz"
        text = f"Lines that stand out of the envelope spectrum: {len(lines)}; {rhythm}."
        return Character.RHYTHMIC, (Reason("lines", text),)
    if kurtosis is None:
        text = (
            "No rhythm stands out, and the peaks could not be judged. Record again, longer and not clipped."
        )
        return Character.UNDETERMINED, (Reason("no_kurtosis", text),)
    if kurtosis > KURTOSIS_OF_IMPACTS:
        text = (
            f"No rhythm, but peaks: kurtosis {kurtosis:.1f} where even noise has 3. Dirt, looseness or a rub?"
        )
        return Character.IRREGULAR, (Reason("peaks", text),)
    text = (
        f"Neither rhythm nor peaks (kurtosis {kurtosis:.1f}): friction or flow. That doesn't prove a sound "
        "part: noise hides weak impacts, and spread damage sounds smooth again. Compare the level with its "
        "baseline."
    )
    return Character.SMOOTH, (Reason("smooth", text),)


def hits(
    lines: Sequence[Line],
    parts_hz: Mapping[str, float],
    spacing_hz: Mapping[str, float] | None = None,
    search_share: float = SEARCH_SHARE,
) -> tuple[Hit, ...]:
    """Return for every part what was found of its frequency, within a share of each multiple up to the fifth.

    Rolling elements slip 1 to 2 %, hence the default of 2 %. ``spacing_hz`` gives, by the same names, how far
    beside a harmonic its sidebands are expected: shaft speed for an inner ring, cage speed for an element.
    A part counts as found only with its fundamental: a line twice as high has many other makers.
    """
    spacings = spacing_hz or {}
    found = [
        _hit(lines, name, frequency, spacings.get(name), search_share) for name, frequency in parts_hz.items()
    ]
    explained = {one.frequency_hz for hit in found if hit.match is Match.FOUND for one in hit.harmonics}
    return tuple(_beside(hit, found, explained) for hit in found)


def _hit(lines: Sequence[Line], name: str, frequency: float, spacing: float | None, share: float) -> Hit:
    """Return what was found of one part."""
    harmonics = []
    for order in range(1, HIGHEST_ORDER + 1):
        line = _strongest_near(lines, order * frequency, share * order * frequency)
        if line is not None:
            harmonics.append(Harmonic(order, *line, _sidebands(lines, line, spacing, share)))
    match = Match.NOT_FOUND
    if harmonics:
        match = Match.FOUND if harmonics[0].order == 1 else Match.HIGHER_ORDERS
    half = max(share * frequency, NARROWEST_HZ)
    return Hit(name, frequency, frequency - half, frequency + half, match, tuple(harmonics))


def _strongest_near(lines: Sequence[Line], frequency: float, reach: float) -> Line | None:
    """Return the strongest line within reach, or None."""
    near = [line for line in lines if abs(line.frequency_hz - frequency) <= max(reach, NARROWEST_HZ)]
    return max(near, key=lambda line: line.above_floor_db, default=None)


def _sidebands(lines: Sequence[Line], line: Line, spacing: float | None, share: float) -> int:
    """Return on how many sides a line stands one spacing away."""
    if spacing is None:
        return 0
    places = (line.frequency_hz - spacing, line.frequency_hz + spacing)
    return sum(_strongest_near(lines, place, share * spacing) is not None for place in places)


def _beside(hit: Hit, every: Sequence[Hit], explained: Set[float]) -> Hit:
    """Return the hit seen beside the others: which fit the same fundamental, or explain all its lines."""
    if hit.match is Match.HIGHER_ORDERS and all(one.frequency_hz in explained for one in hit.harmonics):
        return replace(hit, match=Match.ANOTHERS)
    if hit.match is not Match.FOUND:
        return hit
    heard = hit.harmonics[0].frequency_hz
    rivals = (one.name for one in every if one.name != hit.name and one.low_hz <= heard <= one.high_hz)
    return replace(hit, fits_as_well=tuple(rivals))
