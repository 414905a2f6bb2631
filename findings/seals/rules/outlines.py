"""A seam's outline: a door's frame, any path of corners, or none; how it is checked and drawn."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from findings.kinds.seam_outline import Corner, Outline, Turn, circle, frame, line, polyline, sides_m
from findings.seals.rules.words import Problem

LENGTH_TOLERANCE = 0.05
"""How far an outline's own length may be from the stated one: gaskets bow round corners (judgement)."""
MOST_CORNERS = 60
LONGEST_SIDE_M = 200.0


def outline_problems(outline: Mapping[str, Any], length_m: float, *, ring: bool) -> list[Problem]:
    """Say what is wrong with an outline; an empty one is a plain ring or line and always right."""
    if not outline:
        return []
    frame_given, corners_given = bool({"width_m", "height_m"} & outline.keys()), "corners_m" in outline
    if frame_given == corners_given:
        text = "It has either width_m and height_m, or corners_m."
        return [Problem("outline", "outline_mixed", text)]
    problems = list(
        _frame_problems(outline, ring=ring) if frame_given else _corner_problems(outline, ring=ring)
    )
    return problems or list(_length_problems(outline, length_m, ring=ring))


def drawn(outline: Mapping[str, Any], *, ring: bool) -> Outline:
    """Return the drawing of a checked outline."""
    if not outline:
        return circle() if ring else line()
    if "corners_m" in outline:
        return polyline([(x, y) for x, y in outline["corners_m"]], ring=ring)
    corner = Corner(outline.get("start_corner", Corner.LOWER_LEFT))
    return frame(outline["width_m"], outline["height_m"], corner, Turn(outline.get("turn", Turn.CLOCKWISE)))


def _frame_problems(outline: Mapping[str, Any], *, ring: bool) -> Iterator[Problem]:
    if not ring:
        yield Problem(
            "outline", "frame_is_a_ring", "A door's frame is a ring; give a line's corners instead."
        )
    for name in ("width_m", "height_m"):
        if not _is_length(outline.get(name)):
            text = f"A frame has a width and a height above 0 and up to {LONGEST_SIDE_M:g} m."
            yield Problem("outline", f"{name}_out_of_range", text)
    if outline.get("start_corner", Corner.LOWER_LEFT) not in set(Corner):
        yield Problem("outline", "corner_unknown", f"A start corner is one of {', '.join(Corner)}.")
    if outline.get("turn", Turn.CLOCKWISE) not in set(Turn):
        yield Problem("outline", "turn_unknown", f"It is walked {' or '.join(Turn)}.")


def _corner_problems(outline: Mapping[str, Any], *, ring: bool) -> Iterator[Problem]:
    corners, least = outline["corners_m"], 3 if ring else 2
    if not isinstance(corners, list) or not least <= len(corners) <= MOST_CORNERS:
        text = f"A path has {least} to {MOST_CORNERS} corners."
        yield Problem("outline", "corner_count", text)
    elif not all(_is_spot(spot) for spot in corners):
        text = f"A corner is [x, y] in m, each within {LONGEST_SIDE_M:g}."
        yield Problem("outline", "corner_unreadable", text)
    elif min(sides_m([(x, y) for x, y in corners], ring=ring)) < 0.001:
        yield Problem("outline", "corners_coincide", "Neighbouring corners lie apart.")


def _length_problems(outline: Mapping[str, Any], length_m: float, *, ring: bool) -> Iterator[Problem]:
    if "corners_m" in outline:
        own = math.fsum(sides_m([(x, y) for x, y in outline["corners_m"]], ring=ring))
    else:
        own = 2.0 * (outline["width_m"] + outline["height_m"])
    if abs(own - length_m) > LENGTH_TOLERANCE * length_m:
        text = f"The outline is {own:.2f} m long, the seam {length_m:.2f} m: they agree within 5 %."
        yield Problem("outline", "outline_length", text)


def _is_spot(spot: Any) -> bool:
    return isinstance(spot, list) and len(spot) == 2 and all(_is_number(one) for one in spot)


def _is_number(value: Any) -> bool:
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    return is_number and math.isfinite(value) and abs(value) <= LONGEST_SIDE_M


def _is_length(value: Any) -> bool:
    return _is_number(value) and value > 0.001
