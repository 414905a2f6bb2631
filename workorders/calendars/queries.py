"""Read working calendars."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from findings.kinds.local_hours import WEEKDAYS
from findings.plant.models import Site
from workorders.calendars.models import SiteDay, WorkingWeek
from workorders.calendars.rules import (
    DayKind,
    DayStanding,
    SiteDays,
    Week,
    WorkingCalendar,
    holidays_of,
    is_estimated,
    plain_shift,
    shifts_of,
)


def working_weeks() -> QuerySet[WorkingWeek]:
    """Return all weeks, void ones too."""
    return WorkingWeek.objects.select_related("site")


def site_days() -> QuerySet[SiteDay]:
    """Return what all sites say of single days, void rows too."""
    return SiteDay.objects.select_related("site")


def calendars_of(sites: Iterable[Site]) -> dict[uuid.UUID, WorkingCalendar]:
    """Return the working calendar of each site (two queries); one without rows works the assumed week."""
    zones = {site.pk: ZoneInfo(site.time_zone) for site in sites}
    weeks: dict[uuid.UUID, list[Week]] = {pk: [] for pk in zones}
    days: dict[uuid.UUID, list[SiteDays]] = {pk: [] for pk in zones}
    for row in WorkingWeek.objects.filter(site_id__in=list(zones), void_at__isnull=True):
        shifts = shifts_of(row.shifts)
        weeks[row.site_id].append(Week(row.from_on, shifts, row.country, row.subdivision, row.known_until_on))
    for one in SiteDay.objects.filter(site_id__in=list(zones), void_at__isnull=True):
        days[one.site_id].append(
            SiteDays(DayKind(one.kind), one.first_on, one.last_on, one.name, shifts_of(one.shifts))
        )
    return {pk: WorkingCalendar(zone, tuple(weeks[pk]), tuple(days[pk])) for pk, zone in zones.items()}


def calendar_of(site: Site) -> WorkingCalendar:
    """Return the working calendar of one site."""
    return calendars_of([site])[site.pk]


@dataclass(frozen=True, slots=True)
class DayTold:
    """A day that is not like others of its weekday, and why."""

    on: date
    weekday: str
    standing: DayStanding
    name: str
    source: str
    estimated: bool
    windows: list[dict[str, str]]


@dataclass(frozen=True, slots=True)
class YearTold:
    """A year of a site's calendar."""

    site_id: uuid.UUID
    year: int
    time_zone: str
    country: str
    subdivision: str
    shifts: list[dict[str, object]]
    known_until_on: date | None
    days: list[DayTold]
    warnings: list[dict[str, str]]


def year_of(site: Site, year: int) -> YearTold:
    """Return every day of a year that is not ordinary, where each comes from, and what is not known."""
    calendar, first, last = calendar_of(site), date(year, 1, 1), date(year, 12, 31)
    week = calendar.week_of(last)
    told = []
    for offset in range((last - first).days + 1):
        day = first + timedelta(days=offset)
        standing, name, source = calendar.standing(day)
        if standing is not DayStanding.ORDINARY:
            here = [str(window) for window in calendar.windows(day)]
            windows = [dict(zip(("start", "end"), one.split(" to "), strict=True)) for one in here]
            estimated = standing is DayStanding.PUBLIC_HOLIDAY and is_estimated(name)
            weekday = WEEKDAYS[day.weekday()]
            told.append(DayTold(day, weekday, standing, name, source, estimated, windows))
    warnings = [{"code": code, "text": text} for code, text in calendar.warnings(first, last)]
    if any(is_estimated(name) for name in holidays_of(week.country, week.subdivision, year).values()):
        text = "The days of some public holidays are estimated; see there."
        warnings.append({"code": "holidays_estimated", "text": text})
    return YearTold(
        site_id=site.pk,
        year=year,
        time_zone=site.time_zone,
        country=week.country,
        subdivision=week.subdivision,
        shifts=[plain_shift(shift) for shift in week.shifts],
        known_until_on=week.known_until_on,
        days=told,
        warnings=warnings,
    )
