"""Calendar months of a site: their bounds as instants, their names in addresses."""

import re
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo


def month_of(at: datetime, zone: str) -> date:
    """Return the first day of the site's month at a moment."""
    local = at.astimezone(ZoneInfo(zone))
    return date(local.year, local.month, 1)


def month_after(month_on: date, count: int = 1) -> date:
    """Return the first day of the month so many months later (earlier, when negative)."""
    index = month_on.year * 12 + month_on.month - 1 + count
    return date(index // 12, index % 12 + 1, 1)


def bounds(month_on: date, zone: str) -> tuple[datetime, datetime]:
    """Return the month's first instant and the first one after it, in UTC."""
    place, after = ZoneInfo(zone), month_after(month_on)
    start = datetime(month_on.year, month_on.month, 1, tzinfo=place)
    end = datetime(after.year, after.month, 1, tzinfo=place)
    return start.astimezone(UTC), end.astimezone(UTC)


def last_months(at: datetime, zone: str, count: int) -> list[date]:
    """Return the last so many months, the present one last."""
    now = month_of(at, zone)
    return [month_after(now, back) for back in range(1 - count, 1)]


def read_month(text: str) -> date | None:
    """Return the first day of "2026-03", or None where the text names no month from 1990 to 2200."""
    if not re.fullmatch(r"\d{4}-\d{2}", text, re.ASCII):
        return None
    year, month = int(text[:4]), int(text[5:])
    return date(year, month, 1) if 1990 <= year <= 2200 and 1 <= month <= 12 else None
