"""The site's months as instants, and elapsed time without rounding."""

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from typing import Final
from zoneinfo import ZoneInfo

HOUR: Final = timedelta(hours=1)
DAY: Final = timedelta(days=1)


def utc(moment: datetime) -> datetime:
    """Put a moment on UTC: two moments of one zone would be compared and subtracted by the wall clock.

    Raises ValueError on a moment without an offset.
    """
    if moment.utcoffset() is None:
        msg = "A moment needs its offset."
        raise ValueError(msg)
    return moment.astimezone(UTC)


def month_bounds(month_on: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Give the first instant of a site's month and that of the next, in UTC.

    `month_on` is any day of the month. Wall clocks are never subtracted: March 2026 in Europe/Berlin
    has 743 h, October 745 h.
    """
    first = date(month_on.year, month_on.month, 1)
    following = date(first.year + first.month // 12, first.month % 12 + 1, 1)
    return _midnight(first, zone), _midnight(following, zone)


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC)


def seconds_between(start: datetime, end: datetime) -> Fraction:
    """Count the seconds that elapse between two aware moments, exactly."""
    return Fraction((utc(end) - utc(start)) // timedelta(microseconds=1), 1_000_000)


def days_between(start: datetime, end: datetime) -> float:
    """Count the elapsed days between two aware moments, for ages and statistics."""
    return (utc(end) - utc(start)) / DAY


def put_on_utc(fact: object, *names: str) -> None:
    """Replace the named moments of a fact under construction by the same moments in UTC."""
    for name in names:
        moment = getattr(fact, name)
        if moment is not None:
            object.__setattr__(fact, name, utc(moment))


def clip(
    start: datetime, end: datetime | None, window: tuple[datetime, datetime]
) -> tuple[datetime, datetime] | None:
    """Cut a stretch of time (end None: still running) to a window; None when nothing is left."""
    first = max(utc(start), utc(window[0]))
    last = utc(window[1]) if end is None else min(utc(end), utc(window[1]))
    return (first, last) if first < last else None
