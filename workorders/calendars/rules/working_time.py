"""Working time between moments: what was worked, when so much will have been, when work begins next.

All of it follows the wall clock of the site instant by instant: a night shift over the hour that the clock
skips is an hour short, over the hour that comes twice an hour long.
"""

from datetime import UTC, datetime, timedelta
from typing import Final

from findings.kinds.local_hours import MINUTE_US, local_stretches
from workorders.calendars.rules.calendar import WorkingCalendar

HORIZON: Final = timedelta(days=3_700)
"""How far ahead is looked: ten years, the longest promise there is, and a little."""

_MICROSECOND: Final = timedelta(microseconds=1)


class NoWorkingTime(ValueError):
    """The calendar has too little working time within ten years."""

    def __init__(self) -> None:
        super().__init__("The calendar does not have so much working time within ten years.")


def working_between(calendar: WorkingCalendar, start: datetime, end: datetime) -> timedelta:
    """Return the working time of [start, end) in aware moments; nothing where the end isn't later."""
    total = 0
    for stretch in local_stretches(start, end, calendar.zone):
        for window in calendar.windows(stretch.day):
            first = max(stretch.start_us, window.start * MINUTE_US)
            total += max(min(stretch.end_us, window.end * MINUTE_US) - first, 0)
    return timedelta(microseconds=total)


def add_working_time(calendar: WorkingCalendar, start: datetime, duration: timedelta) -> datetime:
    """Return the first moment, in UTC, by which so much working time has passed since the start.

    No time at all leaves the start where it is, also outside working hours. Raises NoWorkingTime, and
    ValueError for a negative duration.
    """
    left = duration // _MICROSECOND
    if left < 0:
        msg = "Working time is added, not taken away."
        raise ValueError(msg)
    passed = start = start.astimezone(UTC)
    if left == 0:
        return start
    for stretch in local_stretches(start, start + HORIZON, calendar.zone):
        for window in calendar.windows(stretch.day):
            first = max(stretch.start_us, window.start * MINUTE_US)
            worked = min(stretch.end_us, window.end * MINUTE_US) - first
            if worked >= left:
                return passed + timedelta(microseconds=first - stretch.start_us + left)
            left -= max(worked, 0)
        passed += timedelta(microseconds=stretch.end_us - stretch.start_us)
    raise NoWorkingTime


def next_working_moment(calendar: WorkingCalendar, at: datetime) -> datetime:
    """Return the moment itself where work is on, or the next one at which it begins, in UTC.

    Raises NoWorkingTime.
    """
    return add_working_time(calendar, at, _MICROSECOND) - _MICROSECOND
