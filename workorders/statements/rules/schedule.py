"""Was the frozen week kept?"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from workorders.statements.rules.shares import Share, share_of_amounts, share_of_counts


@dataclass(frozen=True, slots=True)
class PlannedJob:
    """A job of a week: any day of the week it was planned for, when it was done, and its planned hours.

    A break-in was not in the frozen list; one deferred after the freeze stays in it and is missed.
    """

    order_id: str
    planned_on: date
    done_at: datetime | None
    planned_hours: Decimal
    break_in: bool = False


@dataclass(frozen=True, slots=True)
class ScheduleCompliance:
    """Frozen jobs done inside their week, by count and by planned hours; break-ins apart."""

    by_count: Share
    by_hours: Share
    break_ins: int
    missed: tuple[str, ...]


def week_of(day: date) -> tuple[date, date]:
    """Give Monday and Sunday of a day's week."""
    monday = day - timedelta(days=day.weekday())
    return monday, monday + timedelta(days=6)


def schedule_compliance(
    jobs: Iterable[PlannedJob], month_on: date, zone: ZoneInfo, as_of: datetime
) -> ScheduleCompliance:
    """Judge the weeks of a month; a week belongs to the month of its Sunday, by the site's calendar.

    Only weeks that are over at `as_of` count. Early is not as scheduled.
    """
    frozen, kept, breaks = [], [], 0
    for job in jobs:
        monday, sunday = week_of(job.planned_on)
        if (sunday.year, sunday.month) != (month_on.year, month_on.month):
            continue
        if as_of.astimezone(zone).date() <= sunday:
            continue
        if job.break_in:
            breaks += 1
            continue
        frozen.append(job)
        done_on = job.done_at.astimezone(zone).date() if job.done_at is not None else None
        if done_on is not None and monday <= done_on <= sunday:
            kept.append(job)
    hours = [sum((job.planned_hours for job in group), Decimal(0)) for group in (kept, frozen)]
    return ScheduleCompliance(
        share_of_counts(len(kept), len(frozen)),
        share_of_amounts(hours[0], hours[1]),
        breaks,
        tuple(job.order_id for job in frozen if job not in kept),
    )
