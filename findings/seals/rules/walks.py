"""What a walk along a seam has to be, and what its places come to."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final, NamedTuple

from findings.physics.acoustics import BackgroundStatus, correct_background
from findings.physics.estimate import Estimate
from findings.physics.seal_test import (
    LARGEST_GAP_M,
    PointResult,
    SealResult,
    SeamLeak,
    SeamPoint,
    Verdict,
    Walk,
    seal_test,
)
from findings.physics.seam import Seam
from findings.physics.tone_source import Criterion, check_source
from findings.seals.rules.words import Problem

MOST_PLACES: Final = 500
LEVELS_DB: Final = (-40.0, 200.0)
FUTURE_TOLERANCE: Final = timedelta(minutes=10)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPlace:
    """A peak-held level at a place along the seam; ``client_id`` is the sender's own key within the walk."""

    client_id: str
    position_m: float
    level_db: float
    background_db: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewWalk:
    """What begins a walk: the readings for the source's check, taken at the walk's own distance.

    ``insist`` begins it although the source is too weak for any place to pass.
    """

    client_id: str
    begun_at: datetime
    open_level_db: float
    background_db: float
    distance_m: float | None = None
    instrument_id: uuid.UUID | None = None
    survey_id: uuid.UUID | None = None
    corrects_walk_id: uuid.UUID | None = None
    insist: bool = False
    note: str = ""


class Told(NamedTuple):
    """The kept figures of a walk in JSON: what it was judged from, and what came of it."""

    inputs: dict[str, Any]
    places: list[dict[str, Any]]
    leaks: list[dict[str, Any]]
    gaps: list[list[float]]


def fingerprint(walk: NewWalk | NewPlace, of: uuid.UUID) -> bytes:
    """Return 32 bytes that tell one content from another; ``of`` is the seam or walk that it belongs to."""
    content = {
        name: value.astimezone(UTC).isoformat() if isinstance(value, datetime) else value
        for name, value in asdict(walk).items()
    }
    text = json.dumps({**content, "of": of}, sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).digest()


def place_problems(place: NewPlace, length_m: float) -> list[Problem]:
    """Say what refuses a place."""
    problems = []
    if not 0.0 <= place.position_m <= length_m:
        text = f"It lies on the seam: from 0 to {length_m:g} m."
        problems.append(Problem("position_m", "off_the_seam", text))
    for member in ("level_db", "background_db"):
        problems += level_problem(member, getattr(place, member))
    return problems


def level_problem(member: str, level_db: float | None) -> list[Problem]:
    """Say whether a level is a slip of the pen."""
    low, high = LEVELS_DB
    if level_db is None or low <= level_db <= high:
        return []
    return [Problem(member, "out_of_range", f"A level lies between {low:g} and {high:g} dB.")]


def judged_from(
    *,
    length_m: float,
    ring: bool,
    criterion: str,
    open_level_db: float,
    background_db: float,
    places: Sequence[tuple[float, float, float | None]],
) -> dict[str, Any]:
    """Return the inputs that compute a walk once more, in plain JSON."""
    return {
        "length_m": length_m,
        "ring": ring,
        "criterion": criterion,
        "open_level_db": open_level_db,
        "background_db": background_db,
        "places": [list(place) for place in places],
    }


def result_of(inputs: Mapping[str, Any]) -> SealResult:
    """Return what kept inputs give by the present version of the method."""
    return seal_test(
        Walk(
            seam=Seam(inputs["length_m"], ring=inputs["ring"]),
            open_level_db=inputs["open_level_db"],
            background_db=inputs["background_db"],
            points=[SeamPoint(*place) for place in inputs["places"]],
            criterion=Criterion(inputs["criterion"]),
        )
    )


def told(inputs: dict[str, Any], result: SealResult) -> Told:
    """Return the figures of a judged walk as they are kept."""
    return Told(
        inputs,
        [point._asdict() for point in result.points],
        [{**leak._asdict(), "position": leak.position.to_json()} for leak in result.leaks],
        [[start, end] for start, end in result.gaps],
    )


def result_again(inputs: Mapping[str, Any], verdict: str, kept: Told) -> SealResult:
    """Return the kept result of a walk as the plan draws it: nothing is judged anew."""
    points = tuple(
        PointResult(
            **{
                **point,
                "background": BackgroundStatus(point["background"]),
                "verdict": Verdict(point["verdict"]),
            }
        )
        for point in kept.places
    )
    leaks = tuple(
        SeamLeak(
            **{
                **leak,
                "position": Estimate.from_json(leak["position"]),
                "verdict": Verdict(leak["verdict"]),
            }
        )
        for leak in kept.leaks
    )
    source = check_source(
        inputs["open_level_db"], inputs["background_db"], criterion=Criterion(inputs["criterion"])
    )
    # The plan needs no smallest drop: the source's margin stands in, an estimate in dB like it.
    gaps = tuple((start, end) for start, end in kept.gaps)
    return SealResult(Verdict(verdict), source, source.margin, (), points=points, leaks=leaks, gaps=gaps)


def worst_place(inputs: Mapping[str, Any]) -> tuple[float, float, float]:
    """Return place, level as read and background of the loudest place, its background taken off."""
    own = [
        (position, level, inputs["background_db"] if background is None else background)
        for position, level, background in inputs["places"]
    ]
    return max(own, key=lambda place: (correct_background(place[1], place[2])[0], -place[0]))


def next_place_m(positions_m: Sequence[float], length_m: float, *, ring: bool) -> float | None:
    """Return where to listen next on a walk from the start: None where the seam's end is reached."""
    if not positions_m:
        return 0.0
    last = max(positions_m)
    following = round(last + LARGEST_GAP_M, 3)
    if following < length_m - 1e-9:
        return following
    # A ring's end is its beginning, which was heard first; a line's end has to be heard itself.
    return None if ring or last >= length_m - 1e-9 else length_m
