"""Where a place along a seam lies on a drawing: on a line, a circle, the frame of a door or any path."""

import bisect
import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

CENTRE_X, CENTRE_Y, RADIUS = 320.0, 175.0, 115.0
LINE_LEFT, LINE_RIGHT, LINE_Y = 60.0, 580.0, 90.0
STEPS_ROUND = 120


class Spot(NamedTuple):
    """A point of the drawing and the direction that leads away from the seam there."""

    x: float
    y: float
    out_x: float
    out_y: float


@dataclass(frozen=True)
class Outline:
    """A drawn seam: the spot at a part from 0 to 1 of its length, its corners, how tall the drawing is."""

    spot: Callable[[float], Spot]
    corners: tuple[float, ...]
    height: float
    walked: str

    def stretch(self, start: float, end: float) -> list[Spot]:
        """Return the spots that draw the stretch between two parts; past 1 a ring goes on from its start."""
        steps = max(math.ceil((end - start) * STEPS_ROUND), 1)
        parts = {start + (end - start) * step / steps for step in range(steps + 1)}
        corners = {corner + turn for corner in self.corners for turn in (0.0, 1.0)}
        parts |= {corner for corner in corners if start < corner < end}
        return [self.spot(part if part <= 1.0 else part - 1.0) for part in sorted(parts)]


def line() -> Outline:
    """Return the outline of an open seam, from left to right."""
    width = LINE_RIGHT - LINE_LEFT
    return Outline(lambda part: Spot(LINE_LEFT + width * part, LINE_Y, 0.0, -1.0), (), 150.0, "left to right")


def circle() -> Outline:
    """Return the outline of a ring, clockwise from the top."""

    def spot(part: float) -> Spot:
        across, up = math.sin(math.tau * part), math.cos(math.tau * part)
        return Spot(CENTRE_X + RADIUS * across, CENTRE_Y - RADIUS * up, across, -up)

    return Outline(spot, (), 330.0, "clockwise from the top")


class Corner(StrEnum):
    """Name the corner of a door's frame at which a walk begins."""

    LOWER_LEFT = "lower_left"
    UPPER_LEFT = "upper_left"
    UPPER_RIGHT = "upper_right"
    LOWER_RIGHT = "lower_right"


class Turn(StrEnum):
    """Name the way round that a ring is walked, seen by the walker."""

    CLOCKWISE = "clockwise"
    COUNTERCLOCKWISE = "counterclockwise"


def frame(
    width_m: float, height_m: float, corner: Corner = Corner.LOWER_LEFT, turn: Turn = Turn.CLOCKWISE
) -> Outline:
    """Return the outline of a door's frame, from one of its corners; both sizes above zero."""
    scale = min(2.0 * RADIUS / height_m, 4.0 * RADIUS / width_m)
    half_x, half_y = max(width_m * scale / 2.0, 2.0), max(height_m * scale / 2.0, 2.0)
    around = {
        Corner.LOWER_LEFT: (CENTRE_X - half_x, CENTRE_Y + half_y),
        Corner.UPPER_LEFT: (CENTRE_X - half_x, CENTRE_Y - half_y),
        Corner.UPPER_RIGHT: (CENTRE_X + half_x, CENTRE_Y - half_y),
        Corner.LOWER_RIGHT: (CENTRE_X + half_x, CENTRE_Y + half_y),
    }
    order = list(Corner) if turn is Turn.CLOCKWISE else list(Corner)[::-1]
    first = order.index(corner)
    vertices = [around[one] for one in order[first:] + order[:first]]
    upright = corner in {Corner.LOWER_LEFT, Corner.UPPER_RIGHT}
    sides = (height_m, width_m) if upright is (turn is Turn.CLOCKWISE) else (width_m, height_m)
    walked = f"{turn.value} from the {corner.value.replace('_', ' ')} corner"
    return _path(vertices, (*sides, *sides), walked=walked, ring=True)


def polyline(vertices_m: Sequence[tuple[float, float]], *, ring: bool) -> Outline:
    """Return the outline of any seam, drawn to fit from its corners in m, x to the right and y up.

    ``vertices_m`` are at least two (a ring: three), neighbours apart; a ring closes by itself.
    """
    across, up = [x for x, _ in vertices_m], [y for _, y in vertices_m]
    width, height = max(across) - min(across), max(up) - min(up)
    scale = min(2.0 * RADIUS / height if height else math.inf, 4.0 * RADIUS / width if width else math.inf)
    middle_x, middle_y = (max(across) + min(across)) / 2.0, (max(up) + min(up)) / 2.0
    spots = [(CENTRE_X + (x - middle_x) * scale, CENTRE_Y - (y - middle_y) * scale) for x, y in vertices_m]
    return _path(spots, sides_m(vertices_m, ring=ring), walked="from its first corner", ring=ring)


def sides_m(vertices_m: Sequence[tuple[float, float]], *, ring: bool) -> tuple[float, ...]:
    """Return the lengths in m of the sides between corners; a ring's last side leads back."""
    ends = [*vertices_m, vertices_m[0]] if ring else vertices_m
    return tuple(math.dist(start, end) for start, end in itertools.pairwise(ends))


def _path(
    vertices: Sequence[tuple[float, float]], sides: Sequence[float], *, walked: str, ring: bool
) -> Outline:
    """Return the outline along drawn corners, each side as long along the seam as ``sides`` say."""
    ends = [*vertices, vertices[0]] if ring else list(vertices)
    reached = list(itertools.accumulate(sides, initial=0.0))
    parts = [step / reached[-1] for step in reached]
    # The drawing's y points down, so that an area above zero is a clockwise ring.
    area = sum(x * v - u * y for (x, y), (u, v) in itertools.pairwise([*vertices, vertices[0]]))
    outward = 1.0 if area >= 0.0 else -1.0
    outs = []
    for (x, y), (u, v) in itertools.pairwise(ends):
        length = math.hypot(u - x, v - y) or 1.0
        outs.append((outward * (v - y) / length, -outward * (u - x) / length))

    def spot(part: float) -> Spot:
        side = min(max(bisect.bisect_left(parts, part) - 1, 0), len(outs) - 1)
        share = (min(max(part, 0.0), 1.0) - parts[side]) / (parts[side + 1] - parts[side])
        (x, y), (u, v) = ends[side], ends[side + 1]
        out_x, out_y = outs[side]
        if part <= 0.0 and ring:
            out_x, out_y = _between(outs[0], outs[-1])
        return Spot(x + (u - x) * share, y + (v - y) * share, out_x, out_y)

    return Outline(spot, (0.0, *parts[1:-1]) if ring else tuple(parts[1:-1]), 330.0, walked)


def _between(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    """Return the direction midway between two."""
    x, y = one[0] + other[0], one[1] + other[1]
    length = math.hypot(x, y)
    return (x / length, y / length) if length > 1e-9 else one
