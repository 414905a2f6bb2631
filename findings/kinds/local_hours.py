"""Hours of the wall clock: windows of a day, kinds of day, and the site's clock through every change of it.

A window is in minutes of the local day, its end not included. What holds at an instant is decided by the
wall clock there, so a window inside the hour that the clock skips is short or missing that day, and one
inside the hour that comes twice counts twice: a day has 23, 24 or 25 hours.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

MINUTES_OF_A_DAY: Final = 1440
MICROSECONDS: Final = 1_000_000
MINUTE_US: Final = 60 * MICROSECONDS
HOUR_US: Final = 60 * MINUTE_US
DAY: Final = timedelta(days=1)
WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
HOLIDAY: Final = "holiday"
DAY_KINDS: Final = (*WEEKDAYS, HOLIDAY)
_LOOK: Final = timedelta(hours=12)
_SECOND: Final = timedelta(seconds=1)


class Window(NamedTuple):
    """A stretch of the local day in minutes from midnight, ``end`` not included, at most 1440."""

    start: int
    end: int

    def __str__(self) -> str:
        return f"{clock(self.start)} to {clock(self.end)}"


class LocalStretch(NamedTuple):
    """A stretch of one local day in microseconds of its wall clock, as long as it lasts in truth."""

    day: date
    start_us: int
    end_us: int


def clock(minutes: int) -> str:
    """Return minutes of the day as "HH:MM", the day's end as "24:00"."""
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def minutes_of(text: str) -> int | None:
    """Return the minutes of "HH:MM" from 00:00 to 24:00, or None where the text is no time of day."""
    if len(text) != 5 or text[2] != ":" or not (text[:2] + text[3:]).isascii():
        return None
    if not (text[:2].isdigit() and text[3:].isdigit()):
        return None
    hours, minutes = int(text[:2]), int(text[3:])
    total = hours * 60 + minutes
    return total if minutes < 60 and total <= MINUTES_OF_A_DAY else None


def day_kind(day: date, holidays: frozenset[date]) -> str:
    """Return the kind of a day: a listed holiday is nothing else."""
    return HOLIDAY if day in holidays else WEEKDAYS[day.weekday()]


def microseconds_between(start: datetime, end: datetime) -> int:
    """Return the microseconds that elapse between two aware moments, exactly."""
    return (end.astimezone(UTC) - start.astimezone(UTC)) // timedelta(microseconds=1)


def local_stretches(start: datetime, end: datetime, zone: ZoneInfo) -> Iterator[LocalStretch]:
    """Yield [start, end) cut at every local midnight and at every change of the clock.

    Moments with their offset; nothing where the end isn't after the start. Raises ValueError for a moment
    without an offset.
    """
    if start.utcoffset() is None or end.utcoffset() is None:
        msg = "A moment needs its offset."
        raise ValueError(msg)
    for first, last, offset in _of_one_offset(start.astimezone(UTC), end.astimezone(UTC), zone):
        yield from _days(first.replace(tzinfo=None) + offset, last.replace(tzinfo=None) + offset)


def _days(start: datetime, end: datetime) -> Iterator[LocalStretch]:
    """Yield a stretch of even wall clock day by day."""
    while start < end:
        midnight = datetime(start.year, start.month, start.day)  # noqa: DTZ001 - a reading of the wall clock
        stop = min(end, midnight + DAY)
        micro = timedelta(microseconds=1)
        yield LocalStretch(midnight.date(), (start - midnight) // micro, (stop - midnight) // micro)
        start = stop


def _of_one_offset(
    start: datetime, end: datetime, zone: ZoneInfo
) -> Iterator[tuple[datetime, datetime, timedelta]]:
    """Yield a stretch of time in UTC cut where the zone's offset changes, each part with its offset.

    No zone changes twice within twelve hours, so two looks half a day apart see every change.
    """
    first, offset, here = start, _offset(start, zone), start
    while here < end:
        ahead = min(here + _LOOK, end)
        following = _offset(ahead, zone)
        if following != offset:
            change = _change(here, ahead, zone)
            yield first, change, offset
            first, offset = change, following
        here = ahead
    if first < end:
        yield first, end, offset


def _offset(moment: datetime, zone: ZoneInfo) -> timedelta:
    return moment.astimezone(zone).utcoffset() or timedelta(0)


def _change(before: datetime, after: datetime, zone: ZoneInfo) -> datetime:
    """Return the first whole second with the later offset."""
    old = _offset(before, zone)
    low, high = before.replace(microsecond=0), after
    if high.microsecond:
        high = high.replace(microsecond=0) + _SECOND
    while high - low > _SECOND:
        middle = (low + (high - low) / 2).replace(microsecond=0)
        if _offset(middle, zone) == old:
            low = middle
        else:
            high = middle
    return high


def a_year_from(moment: datetime, zone: ZoneInfo) -> datetime:
    """Return the same wall clock a year later, in UTC; 29 February becomes 1 March."""
    local = moment.astimezone(zone)
    leap_day = (local.month, local.day) == (2, 29)
    month, day = (3, 1) if leap_day else (local.month, local.day)
    return local.replace(year=local.year + 1, month=month, day=day).astimezone(UTC)
