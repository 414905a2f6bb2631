"""Colours for loudness: paper for quiet, ink for loud, and even steps of lightness between.

Lightness alone carries the meaning, so the picture reads the same in grey, on a black-and-white printer and
by people who don't see all colours; the hue, from pale green over teal to blue-black, only pleases the eye.
"""

from itertools import pairwise
from typing import Final

Colour = tuple[int, int, int]

ANCHORS: Final[tuple[Colour, ...]] = (
    (252, 252, 250),
    (221, 236, 228),
    (158, 205, 189),
    (84, 158, 154),
    (24, 104, 120),
    (13, 58, 86),
    (9, 16, 34),
)


def lightness(colour: Colour) -> float:
    """Return CIE 1976 lightness, 0 for black to 100 for white (IEC 61966-2-1, from memory)."""
    red, green, blue = (_linear(part / 255.0) for part in colour)
    luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    cubic = 116.0 * luminance ** (1.0 / 3.0) - 16.0
    return cubic if luminance > 216.0 / 24389.0 else luminance * 24389.0 / 27.0


def loudness_palette(count: int) -> tuple[Colour, ...]:
    """Return so many colours, at least two, from quiet to loud in even steps of lightness."""
    first, last = lightness(ANCHORS[0]), lightness(ANCHORS[-1])
    return tuple(_colour(first + (last - first) * step / (count - 1)) for step in range(count))


def _linear(part: float) -> float:
    """Return a part of a colour as light, 0 to 1."""
    return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)


def _colour(wanted: float) -> Colour:
    """Return the colour of a lightness, on the straight line between two anchors."""
    stretches = tuple(pairwise(ANCHORS))
    fitting = (stretch for stretch in stretches if lightness(stretch[1]) <= wanted)
    one, other = next(fitting, stretches[-1])
    low, high = 0.0, 1.0
    for _ in range(24):
        middle = (low + high) / 2.0
        low, high = (middle, high) if lightness(_between(one, other, middle)) > wanted else (low, middle)
    return _between(one, other, low)


def _between(one: Colour, other: Colour, share: float) -> Colour:
    """Return the colour at a share of the way from one to the other."""
    red, green, blue = (round(a + (b - a) * share) for a, b in zip(one, other, strict=True))
    return red, green, blue
