"""Dates and times as people type them, put into the zone that the mapping declares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Final
from zoneinfo import ZoneInfo

EARLIEST_YEAR: Final = 1990
LATEST_YEAR: Final = 2100
DATE_FORMATS: Final = ("%Y-%m-%d", "%d.%m.%Y", "%d.%m.%y")
"""Tried when the mapping names none: only forms that cannot mean two days."""
SLASHED_DAY_FIRST: Final = "%d/%m/%Y"
SLASHED_MONTH_FIRST: Final = "%m/%d/%Y"
TIME_FORMATS: Final = ("%H:%M", "%H:%M:%S", "%I:%M %p", "%H.%M")


@dataclass(frozen=True, slots=True)
class Moment:
    """An aware instant in UTC, or why there is none; ``doubt`` says that it could be another one."""

    value: datetime | None = None
    doubt: str = ""
    error: str = ""


def parse_moment(text: str, formats: Sequence[str], zone: ZoneInfo) -> Moment:
    """Read date and time from one cell; a time with an offset keeps it, one without is local to ``zone``."""
    plain = " ".join(text.replace("T", " ").split()) if "T" in text[8:12] else " ".join(text.split())
    try:
        given = datetime.fromisoformat(text.strip())
    except ValueError:
        given = None
    if given is not None and given.tzinfo is not None:
        if not EARLIEST_YEAR <= given.year <= LATEST_YEAR:
            return Moment(error=f"the year {given.year} is not plausible")
        return Moment(given.astimezone(UTC))
    day_text, _, time_text = plain.partition(" ")
    return join_moment(day_text, time_text, formats, zone)


def join_moment(day_text: str, time_text: str, formats: Sequence[str], zone: ZoneInfo) -> Moment:
    """Read a date cell and a time cell; without a time the day's noon stands in, and that is said."""
    day, doubt, error = _parse_day(day_text, formats)
    if day is None:
        return Moment(error=error)
    clock = _parse_time(time_text) if time_text.strip() else time(12, 0)
    if clock is None:
        return Moment(error=f"“{time_text.strip()[:20]}” is not a time of day")
    if not time_text.strip():
        doubt = doubt or "no time of day is given; noon stands in"
    return localised(datetime.combine(day, clock), zone, doubt)


def localised(naive: datetime, zone: ZoneInfo, doubt: str = "") -> Moment:
    """Put a wall-clock time into its zone.

    The hour that a clock change skips is refused, the hour that it doubles is a doubt.
    """
    if not EARLIEST_YEAR <= naive.year <= LATEST_YEAR:
        return Moment(error=f"the year {naive.year} is not plausible")
    first, second = naive.replace(tzinfo=zone, fold=0), naive.replace(tzinfo=zone, fold=1)
    if first.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != naive:
        return Moment(
            error=f"{naive:%Y-%m-%d %H:%M} does not exist in {zone.key}: the clocks were put forward"
        )
    if first.utcoffset() != second.utcoffset():
        doubt = doubt or f"{naive:%Y-%m-%d %H:%M} happened twice in {zone.key}; the first is taken"
    return Moment(first.astimezone(UTC), doubt)


def _parse_day(text: str, formats: Sequence[str]) -> tuple[date | None, str, str]:
    plain = text.strip()
    for form in formats or DATE_FORMATS:
        day = _try(plain, form)
        if day is not None:
            return day, "", ""
    if formats:
        return None, "", f"“{plain[:30]}” does not fit the date form of the mapping"
    return _parse_slashed(plain)


def _parse_slashed(plain: str) -> tuple[date | None, str, str]:
    """Read 3/4/2026: one day if only one reading is possible, else a doubt."""
    day_first, month_first = _try(plain, SLASHED_DAY_FIRST), _try(plain, SLASHED_MONTH_FIRST)
    if day_first and month_first and day_first != month_first:
        return None, "", f"“{plain[:30]}” could be two days; say in the mapping which form the dates have"
    day = day_first or month_first
    return day, "", "" if day else f"“{plain[:30]}” is not a date"


def _try(plain: str, form: str) -> date | None:
    try:
        return datetime.strptime(plain, form).replace(tzinfo=UTC).date()
    except ValueError:
        return None


def _parse_time(text: str) -> time | None:
    plain = " ".join(text.upper().split())
    for form in TIME_FORMATS:
        try:
            return datetime.strptime(plain, form).replace(tzinfo=UTC).time()
        except ValueError:
            continue
    return None
