"""The site's months as instants and in addresses, and elapsed time without rounding."""

import re
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from typing import Final
from zoneinfo import ZoneInfo

HOUR: Final = timedelta(hours=1)
DAY: Final = timedelta(days=1)
FIRST_YEAR, LAST_YEAR = 1990, 2200


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


def month_at(moment: datetime, zone: ZoneInfo) -> date:
    """Give the first day of the site's month that a moment lies in."""
    local = moment.astimezone(zone)
    return date(local.year, local.month, 1)


def month_after(month_on: date, count: int = 1) -> date:
    """Give the first day of the month so many months later (earlier, when negative)."""
    years, index = divmod(month_on.year * 12 + month_on.month - 1 + count, 12)
    return date(years, index + 1, 1)


def months_from(first_on: date, last_on: date) -> list[date]:
    """List the first days of the months from one to another, both included."""
    count = (last_on.year - first_on.year) * 12 + last_on.month - first_on.month + 1
    return [month_after(first_on, step) for step in range(max(count, 0))]


def read_month(text: str) -> date | None:
    """Read "2026-03"; None where the text names no month from 1990 to 2200."""
    told = re.fullmatch(r"(\d{4})-(\d{2})", text, re.ASCII)
    if told is None:
        return None
    year, month = int(told[1]), int(told[2])
    return date(year, month, 1) if FIRST_YEAR <= year <= LAST_YEAR and 1 <= month <= 12 else None


def last_due(at: datetime, zone: ZoneInfo, days: int) -> date:
    """Give the last month that ended so many days ago or more by the site's calendar."""
    day = at.astimezone(zone).date() - timedelta(days=days)
    return month_after(day.replace(day=1), -1)


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
