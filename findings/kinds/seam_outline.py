"""Where a place along a seam lies on a drawing: on a line, a circle or the frame of a door."""

import math
from collections.abc import Callable
from dataclasses import dataclass
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


def frame(width_m: float, height_m: float) -> Outline:
    """Return the outline of a door's frame, clockwise from its lower left corner; both sizes above zero."""
    scale = min(2.0 * RADIUS / height_m, 4.0 * RADIUS / width_m)
    half_x, half_y = max(width_m * scale / 2.0, 2.0), max(height_m * scale / 2.0, 2.0)
    around = 2.0 * (width_m + height_m)
    up, over = height_m / around, width_m / around
    corners = (up, up + over, 2.0 * up + over)

    def spot(part: float) -> Spot:
        if part <= 0.0:
            return Spot(CENTRE_X - half_x, CENTRE_Y + half_y, -math.sqrt(0.5), math.sqrt(0.5))
        if part <= corners[0]:
            return Spot(CENTRE_X - half_x, CENTRE_Y + half_y * (1.0 - 2.0 * part / up), -1.0, 0.0)
        if part <= corners[1]:
            along = 2.0 * (part - corners[0]) / over - 1.0
            return Spot(CENTRE_X + half_x * along, CENTRE_Y - half_y, 0.0, -1.0)
        if part <= corners[2]:
            along = 2.0 * (part - corners[1]) / up - 1.0
            return Spot(CENTRE_X + half_x, CENTRE_Y + half_y * along, 1.0, 0.0)
        along = 1.0 - 2.0 * min((part - corners[2]) / over, 1.0)
        return Spot(CENTRE_X + half_x * along, CENTRE_Y + half_y, 0.0, 1.0)

    return Outline(spot, (0.0, *corners), 330.0, "clockwise from the lower left corner")
