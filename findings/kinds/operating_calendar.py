"""When a plant runs: windows of the week on the wall clock, and days on which it stands still."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

from findings.kinds.local_hours import (
    MINUTE_US,
    MINUTES_OF_A_DAY,
    WEEKDAYS,
    Window,
    local_stretches,
)

WHOLE_DAY: Final = (Window(0, MINUTES_OF_A_DAY),)


class CalendarWrong(ValueError):
    """Windows that no week can have."""


def _check(name: str, windows: Sequence[Window]) -> None:
    for window in windows:
        if not 0 <= window.start < window.end <= MINUTES_OF_A_DAY:
            msg = (
                f"{name}: a window from {window} must end after it begins, on the same day. Write one that "
                "passes midnight as two."
            )
            raise CalendarWrong(msg)
    for before, after in pairwise(windows):
        if after.start < before.end:
            msg = f"{name}: the windows {before} and {after} overlap."
            raise CalendarWrong(msg)


@dataclass(frozen=True)
class OperatingCalendar:
    """Windows by weekday ("mon" to "sun"; none: closed) and the days closed altogether.

    Raises CalendarWrong for an unknown weekday, a window outside the day or two that overlap.
    """

    weekly: Mapping[str, Sequence[Window]]
    closed_days: frozenset[date] = field(default=frozenset())

    def __post_init__(self) -> None:
        """Check the windows and put them in order."""
        ordered = {}
        for name, windows in self.weekly.items():
            if name not in WEEKDAYS:
                msg = f"{name[:20]!r} is no weekday; write one of {', '.join(WEEKDAYS)}."
                raise CalendarWrong(msg)
            ordered[name] = tuple(sorted(windows))
            _check(name, ordered[name])
        object.__setattr__(self, "weekly", ordered)

    def windows(self, day: date) -> Sequence[Window]:
        """Return when the plant runs on a local day."""
        if day in self.closed_days:
            return ()
        return self.weekly.get(WEEKDAYS[day.weekday()], ())


ALWAYS: Final = OperatingCalendar(dict.fromkeys(WEEKDAYS, WHOLE_DAY))
"""A plant under pressure day and night."""


@dataclass(frozen=True)
class Outside:
    """The hours that an operating calendar leaves: nights, week-ends and closed days."""

    calendar: OperatingCalendar

    def windows(self, day: date) -> Sequence[Window]:
        """Return when the plant stands still on a local day."""
        edges = [0]
        for window in self.calendar.windows(day):
            edges += [window.start, window.end]
        edges.append(MINUTES_OF_A_DAY)
        gaps = zip(edges[::2], edges[1::2], strict=True)
        return tuple(Window(start, end) for start, end in gaps if start < end)


Hours = OperatingCalendar | Outside


def microseconds_in(hours: Hours, start: datetime, end: datetime, zone: ZoneInfo) -> int:
    """Return the microseconds of [start, end) that lie inside the hours, by the site's wall clock."""
    total = 0
    for stretch in local_stretches(start, end, zone):
        for window in hours.windows(stretch.day):
            first = max(stretch.start_us, window.start * MINUTE_US)
            total += max(min(stretch.end_us, window.end * MINUTE_US) - first, 0)
    return total
