"""When an asset runs: weekly windows by the site's clocks.

A window starts on each of its days. One that ends at or before its start ends on the day after: a night
shift from 22:00 to 06:00 on Friday runs until Saturday morning. No windows at all means always.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

MINUTES_PER_DAY: Final = 24 * 60
MINUTES_PER_WEEK: Final = 7 * MINUTES_PER_DAY
MOST_WINDOWS: Final = 50
_CLOCK = re.compile(r"([01]\d|2[0-3]):([0-5]\d)")


class WindowRefused(ValueError):
    """A window that means nothing; ``index`` and ``member`` say where, ``code`` is stable."""

    def __init__(self, index: int, member: str, code: str, text: str) -> None:
        super().__init__(text)
        self.index = index
        self.member = member
        self.code = code


@dataclass(frozen=True, slots=True)
class RunningWindow:
    """Days from Monday (0) to Sunday (6) and minutes after midnight."""

    days: tuple[int, ...]
    start_minute: int
    end_minute: int

    @property
    def ends_next_day(self) -> bool:
        """Tell whether the window crosses midnight."""
        return self.end_minute <= self.start_minute

    @property
    def minutes(self) -> int:
        """Return how long the window is on one of its days."""
        return self.end_minute - self.start_minute + (MINUTES_PER_DAY if self.ends_next_day else 0)


def read_windows(rows: Iterable[Mapping[str, Any]]) -> tuple[RunningWindow, ...]:
    """Return the windows of rows like {"days": [0, 1], "start": "06:00", "end": "22:00"}.

    "24:00" ends a window at midnight. Raises WindowRefused with the place of the first mistake.
    """
    windows = []
    for index, row in enumerate(rows):
        if index >= MOST_WINDOWS:
            raise WindowRefused(index, "", "too_many_windows", f"At most {MOST_WINDOWS} windows.")
        windows.append(_window(index, row))
    return tuple(windows)


def as_rows(windows: Iterable[RunningWindow]) -> list[dict[str, Any]]:
    """Return the windows as they are stored."""
    return [
        {"days": list(w.days), "start": _text(w.start_minute), "end": _text(w.end_minute)} for w in windows
    ]


def minutes_per_week(windows: Iterable[RunningWindow]) -> int:
    """Return how many minutes of a week at least one window covers; no windows cover all of it."""
    spans = sorted(_spans(windows))
    if not spans:
        return MINUTES_PER_WEEK
    covered, reached = 0, 0
    for start, end in spans:
        covered += max(0, end - max(start, reached))
        reached = max(reached, end)
    return covered


def runs_at(windows: Iterable[RunningWindow], local: datetime) -> bool:
    """Tell whether an asset runs at a moment, given by the site's clocks."""
    spans = _spans(windows)
    minute = local.weekday() * MINUTES_PER_DAY + local.hour * 60 + local.minute
    return not spans or any(start <= minute < end for start, end in spans)


def runs_on(windows: Iterable[RunningWindow], day: date) -> bool:
    """Tell whether an asset runs at any time of a day of the site's calendar."""
    spans = _spans(windows)
    start = day.weekday() * MINUTES_PER_DAY
    return not spans or any(s < start + MINUTES_PER_DAY and e > start for s, e in spans)


def _spans(windows: Iterable[RunningWindow]) -> list[tuple[int, int]]:
    """Return minutes of the week; what runs past Sunday night goes on at Monday's start."""
    spans = []
    for window in windows:
        for day in window.days:
            start = day * MINUTES_PER_DAY + window.start_minute
            end = start + window.minutes
            spans.append((start, min(end, MINUTES_PER_WEEK)))
            if end > MINUTES_PER_WEEK:
                spans.append((0, end - MINUTES_PER_WEEK))
    return spans


def _window(index: int, row: Mapping[str, Any]) -> RunningWindow:
    if not isinstance(row, Mapping) or set(row) != {"days", "start", "end"}:
        raise WindowRefused(
            index, "", "window_members", "A window has days, start and end, and nothing else."
        )
    days = row["days"]
    if not isinstance(days, list | tuple) or not days:
        raise WindowRefused(index, "days", "days_missing", "Name at least one day, 0 for Monday.")
    if any(isinstance(day, bool) or not isinstance(day, int) or not 0 <= day <= 6 for day in days):
        raise WindowRefused(index, "days", "day_unknown", "Days go from 0 (Monday) to 6 (Sunday).")
    if len(set(days)) != len(days):
        raise WindowRefused(index, "days", "day_repeated", "Name each day once.")
    start = _minute(index, "start", row["start"])
    end = _minute(index, "end", row["end"])
    if start == end:
        text = "Start and end are the same; a whole day is 00:00 to 24:00."
        raise WindowRefused(index, "end", "window_empty", text)
    return RunningWindow(tuple(sorted(days)), start, end)


def _minute(index: int, member: str, text: Any) -> int:
    if member == "end" and text == "24:00":
        return MINUTES_PER_DAY
    found = _CLOCK.fullmatch(text) if isinstance(text, str) else None
    if found is None:
        raise WindowRefused(index, member, "clock_time", "A clock time reads like 06:00.")
    return int(found[1]) * 60 + int(found[2])


def _text(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"
