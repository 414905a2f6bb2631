"""Charts as numbers: scales, ticks, and shapes in the units of an SVG view box; a template prints them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

WIDTH: Final = 560.0
HEIGHT: Final = 208.0
LEFT: Final = 52.0
RIGHT: Final = 8.0
TOP: Final = 12.0
BOTTOM: Final = 28.0
MOST_TICKS: Final = 5


@dataclass(frozen=True, slots=True)
class Tick:
    """A line across the chart with its label."""

    value: float
    y: float
    label: str


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar; `series` names its style, `text` says it in words."""

    series: str
    x: float
    y: float
    width: float
    height: float
    text: str


@dataclass(frozen=True, slots=True)
class Mark:
    """A point of the line."""

    x: float
    y: float
    text: str


@dataclass(frozen=True, slots=True)
class Label:
    """A word below the chart."""

    x: float
    text: str


@dataclass(frozen=True, slots=True)
class Chart:
    """A drawing, ready to print."""

    ticks: tuple[Tick, ...]
    bars: tuple[Bar, ...] = ()
    line: str = ""
    marks: tuple[Mark, ...] = ()
    labels: tuple[Label, ...] = ()
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = WIDTH - RIGHT
    foot: float = HEIGHT - BOTTOM


@dataclass(frozen=True, slots=True)
class Series:
    """One row of values, one per month; None where nothing is known."""

    name: str
    label: str
    values: Sequence[float | None] = field(default_factory=tuple)


def tick_step(highest: float, most: int = MOST_TICKS) -> float:
    """Return the step of 1, 2, 2.5 or 5 times a power of ten that needs at most so many ticks above zero.

    Counts are whole, so the step is never below 1 where `highest` is a whole number below ten.
    """
    if not math.isfinite(highest) or highest <= 0:
        return 1.0
    rough = highest / most
    power = float(10 ** math.floor(math.log10(rough)))
    steps = (1.0, 2.0, 2.5, 5.0, 10.0)
    step = next(factor * power for factor in steps if factor * power >= rough * (1 - 1e-9))
    return max(step, 1.0) if float(highest).is_integer() and highest < 10 else step


def ticks_to(highest: float, most: int = MOST_TICKS) -> tuple[float, ...]:
    """Return the ticks from zero to the first one not below the highest value; at least zero and one step."""
    step = tick_step(highest, most)
    count = max(1, math.ceil(max(highest, 0.0) / step - 1e-9))
    return tuple(index * step for index in range(count + 1))


def height_of(value: float, top_value: float) -> float:
    """Return the y of a value: `foot` for zero, `TOP` for the top value; y grows downward in SVG."""
    foot = HEIGHT - BOTTOM
    share = 0.0 if top_value <= 0 else min(max(value / top_value, 0.0), 1.0)
    return round(foot - share * (foot - TOP), 2)


def month_chart(
    months: Sequence[str], bars: Sequence[Series], line: Series | None = None, unit: str = ""
) -> Chart:
    """Draw bars side by side for each month, and one line over their middles.

    A value that is None draws nothing. Raises ValueError when a series has not one value per month.
    """
    every = [*bars, *([line] if line else [])]
    if any(len(one.values) != len(months) for one in every):
        msg = "A series needs one value for each month."
        raise ValueError(msg)
    known = [value for one in every for value in one.values if value is not None]
    marks_at = ticks_to(max(known, default=0.0))
    top = marks_at[-1]
    slot = (WIDTH - LEFT - RIGHT) / max(len(months), 1)
    middles = [LEFT + slot * (index + 0.5) for index in range(len(months))]
    points = _marks(line, months, middles, top, unit) if line else ()
    return Chart(
        ticks=tuple(Tick(value, height_of(value, top), _short(value)) for value in marks_at),
        bars=tuple(_bars(bars, months, slot, top, unit)),
        line=_path(line, middles, top) if line else "",
        marks=points,
        labels=tuple(Label(round(x, 2), month.split()[0]) for x, month in zip(middles, months, strict=True)),
    )


def _bars(series: Sequence[Series], months: Sequence[str], slot: float, top: float, unit: str) -> list[Bar]:
    drawn = []
    room = slot * 0.72
    width = room / max(len(series), 1)
    foot = HEIGHT - BOTTOM
    for index, month in enumerate(months):
        start = LEFT + slot * index + (slot - room) / 2
        for place, one in enumerate(series):
            value = one.values[index]
            if value is None or value <= 0:
                continue
            y = height_of(value, top)
            text = _said(month, one.label, value, unit)
            drawn.append(
                Bar(
                    one.name, round(start + place * width + 0.75, 2), y, round(width - 1.5, 2),
                    round(foot - y, 2), text,
                )
            )  # fmt: skip
    return drawn


def _marks(
    line: Series, months: Sequence[str], middles: Sequence[float], top: float, unit: str
) -> tuple[Mark, ...]:
    return tuple(
        Mark(round(x, 2), height_of(value, top), _said(month, line.label, value, unit))
        for x, month, value in zip(middles, months, line.values, strict=True)
        if value is not None
    )


def _path(line: Series, middles: Sequence[float], top: float) -> str:
    """Join the known points; a gap lifts the pen."""
    parts, pen_down = [], False
    for x, value in zip(middles, line.values, strict=True):
        if value is None:
            pen_down = False
            continue
        parts.append(f"{'L' if pen_down else 'M'}{x:.2f} {height_of(value, top):.2f}")
        pen_down = True
    return " ".join(parts)


def _said(month: str, label: str, value: float, unit: str) -> str:
    return f"{month}: {label} {value:,.0f}{' ' + unit if unit else ''}".replace(",", "\u202f")


def _short(value: float) -> str:
    """Write a tick: whole where it is whole, thousands as such, never a long tail."""
    if value >= 10_000:
        return f"{value / 1000:g}k"
    return f"{value:g}"


def share_of(value: float, highest: float, width: float) -> float:
    """Return the length of a horizontal bar for a value beside the highest one."""
    if highest <= 0 or value <= 0:
        return 0.0
    return round(min(value / highest, 1.0) * width, 2)
