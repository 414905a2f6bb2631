"""Panels with axes, written as SVG: every axis has its unit, and every text is escaped."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from html import escape
from typing import Final

PAPER: Final = "#fcfcfa"
INK: Final = "#16212a"
INK_2: Final = "#4f5c66"
RULE: Final = "#d3d8db"
TRACE: Final = "#0a6559"
FONT: Final = "system-ui, 'Segoe UI', Roboto, 'Noto Sans', 'Liberation Sans', sans-serif"
LONGEST_TEXT: Final = 120


def tag(name: str, attributes: Mapping[str, str | float], *inside: str) -> str:
    """Return an element; numbers are written with two decimals, texts inside must be escaped already."""
    written = " ".join(f'{key}="{_value(value)}"' for key, value in attributes.items())
    return f"<{name} {written}>{''.join(inside)}</{name}>" if inside else f"<{name} {written}/>"


def label(x: float, y: float, words: str, **attributes: str | float) -> str:
    """Return a text; an underscore in an attribute's name stands for a hyphen."""
    written: dict[str, str | float] = {"x": x, "y": y, "font-size": 12.0, "fill": INK_2}
    written |= {key.replace("_", "-"): value for key, value in attributes.items()}
    return tag("text", written, safe(words))


def safe(words: str) -> str:
    """Return a text fit for XML: escaped, shortened, without signs that can't be printed."""
    return escape("".join(sign for sign in words if sign.isprintable())[:LONGEST_TEXT])


def _value(value: str | float) -> str:
    """Return an attribute's value."""
    if isinstance(value, str):
        return escape(value)
    return f"{value:.2f}".rstrip("0").rstrip(".")


@dataclass(frozen=True, slots=True)
class Axis:
    """A stretch of values with its unit."""

    low: float
    high: float
    unit: str

    def share(self, value: float) -> float:
        """Return how far along the axis a value lies, 0 to 1 and not beyond."""
        width = self.high - self.low
        return min(max((value - self.low) / width, 0.0), 1.0) if width > 0.0 else 0.0

    def ticks(self, most: int) -> tuple[float, ...]:
        """Return round values along the axis, at most so many and one; both ends where none lies on it."""
        width = self.high - self.low
        if not width > 0.0:
            return (self.low,)
        power = 10.0 ** math.floor(math.log10(width / most))
        step = next(
            power * factor for factor in (1, 2, 5, 10, 20) if power * factor * most >= width * (1 - 1e-9)
        )
        first, last = math.ceil(self.low / step - 1e-9), math.floor(self.high / step + 1e-9)
        round_values = tuple(number * step for number in range(first, last + 1))
        return round_values or (self.low, self.high)


@dataclass(frozen=True, slots=True)
class Panel:
    """A place in the picture with two axes; ``title`` says what is seen."""

    title: str
    left: float
    top: float
    width: float
    height: float
    across: Axis
    up: Axis

    def x(self, value: float) -> float:
        """Return the place of a value across."""
        return self.left + self.width * self.across.share(value)

    def y(self, value: float) -> float:
        """Return the place of a value up; SVG counts downward."""
        return self.top + self.height * (1.0 - self.up.share(value))

    def frame(self, *inside: str) -> str:
        """Return the panel: title, grid, what is inside, and both axes with their units."""
        foot, end = self.top + self.height, self.left + self.width
        grid = [_line(self.left, self.y(v), end, self.y(v)) for v in self.up.ticks(5)]
        left = [_number(self.left - 7, self.y(v) + 4, v, "end") for v in self.up.ticks(5)]
        *firsts, final = self.across.ticks(10)
        below = [_number(self.x(v), foot + 17, v, "middle") for v in firsts]
        below.append(_number(self.x(final), foot + 17, final, "middle", f" {self.across.unit}"))
        marks = [_line(self.x(v), foot, self.x(v), foot + 4, INK_2) for v in self.across.ticks(10)]
        return tag(
            "g",
            {},
            label(self.left, self.top - 9, self.title, font_size=13.0, font_weight="600", fill=INK),
            label(end, self.top - 9, self.up.unit, text_anchor="end"),
            *grid,
            *inside,
            *left,
            *below,
            *marks,
            _line(self.left, foot, end, foot, INK_2),
        )

    def curve(self, points: Iterable[tuple[float, float]], filled: bool = True) -> str:
        """Return a line through points given as values; filled down to the foot where asked."""
        places = [f"{self.x(across):.1f} {self.y(up):.1f}" for across, up in points]
        drawn = tag("path", _stroke("M" + "L".join(places)))
        if not filled or not places:
            return drawn
        foot = self.top + self.height
        ends = f"L{places[-1].split()[0]} {foot:.1f}L{places[0].split()[0]} {foot:.1f}Z"
        shade = "M" + "L".join(places) + ends
        return tag("path", {"d": shade, "fill": TRACE, "fill-opacity": 0.12}) + drawn


def _stroke(path: str) -> dict[str, str | float]:
    """Return the attributes of a curve."""
    return {"d": path, "fill": "none", "stroke": TRACE, "stroke-width": 1.2, "stroke-linejoin": "round"}


def _line(x1: float, y1: float, x2: float, y2: float, colour: str = RULE) -> str:
    """Return a hairline."""
    return tag("line", {"x1": x1, "y1": y1, "x2": x2, "y2": y2, "stroke": colour, "stroke-width": 1.0})


def _number(x: float, y: float, value: float, anchor: str, unit: str = "") -> str:
    """Return a tick's number, with a real minus sign."""
    return label(x, y, f"{value:.6g}{unit}".replace("-", "\u2212"), text_anchor=anchor)
