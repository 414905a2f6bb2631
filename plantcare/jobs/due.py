"""When a job is due by its crontab: on the clock of a zone, each period once, whatever the clock does.

The wall clock is read, not added up: the hour that a spring night leaves out is read as the hour after it,
the hour that an autumn night has twice as its first pass. So a local day has each of its moments once.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from functools import lru_cache
from typing import NamedTuple

from celery.schedules import crontab

from plantcare.jobs.registry import Cron, Job

DAYS_LOOKED_AT = 400
"""How far back and ahead a crontab is read: a little over a year."""

ON_TIME_S = 600.0
"""How late a period may begin that is not made good once it was missed."""


class Slot(NamedTuple):
    """A period and the moment (UTC) from which it is due."""

    period: str
    due_at: datetime


def due_slots(job: Job, zone: tzinfo, now: datetime) -> list[Slot]:
    """Return the periods that are due and still matter, the oldest first.

    Of a period with several moments the first counts.
    """
    if not isinstance(job.schedule, Cron):
        return []
    found: dict[str, datetime] = {}
    for local in _moments_before(job.schedule, zone, now):
        period = job.period_of(local)
        if period not in found and len(found) == max(job.catch_up, 1):
            break
        found[period] = local.astimezone(UTC)
    slots = [Slot(period, due_at) for period, due_at in reversed(found.items())]
    if job.catch_up == 0:
        return [slot for slot in slots if (now - slot.due_at).total_seconds() <= ON_TIME_S]
    return slots


def next_due(job: Job, zone: tzinfo, now: datetime) -> datetime | None:
    """Return the next moment (UTC) after now; None for a crontab that never comes, or no crontab."""
    if not isinstance(job.schedule, Cron):
        return None
    return next((local.astimezone(UTC) for local in _moments_after(job.schedule, zone, now)), None)


def _moments_before(schedule: Cron, zone: tzinfo, now: datetime) -> Iterator[datetime]:
    today = now.astimezone(zone).date()
    for back in range(DAYS_LOOKED_AT):
        for local in reversed(_moments_of(schedule, zone, today - timedelta(days=back))):
            if local.astimezone(UTC) <= now:
                yield local


def _moments_after(schedule: Cron, zone: tzinfo, now: datetime) -> Iterator[datetime]:
    today = now.astimezone(zone).date()
    for ahead in range(DAYS_LOOKED_AT):
        for local in _moments_of(schedule, zone, today + timedelta(days=ahead)):
            if local.astimezone(UTC) > now:
                yield local


def _moments_of(schedule: Cron, zone: tzinfo, day: date) -> list[datetime]:
    words = _parsed(schedule)
    fits = (
        day.month in words.month_of_year
        and day.day in words.day_of_month
        and day.isoweekday() % 7 in words.day_of_week
    )
    if not fits:
        return []
    times = [time(hour, minute) for hour in sorted(words.hour) for minute in sorted(words.minute)]
    return [datetime.combine(day, one, tzinfo=zone) for one in times]


@lru_cache(maxsize=64)
def _parsed(schedule: Cron) -> crontab:
    return crontab(
        minute=schedule.minute,
        hour=schedule.hour,
        day_of_week=schedule.day_of_week,
        day_of_month=schedule.day_of_month,
        month_of_year=schedule.month_of_year,
    )
