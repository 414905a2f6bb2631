"""The first page's counts: what is open and how old, and what came and went in each month."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.db.models import CharField, Count, DateField, Q, Value
from django.db.models.functions import TruncMonth

from findings.plant.models import Site
from findings.register.models import OPEN, Finding
from findings.register.rules import FindingStatus
from workorders.desk.rules.months import bounds

COUNTED: Final = ~Q(status__in=[FindingStatus.DISMISSED, FindingStatus.MERGED])


@dataclass(frozen=True, slots=True)
class AgeBand:
    """A band of ages in days: at least `from_days`, under `to_days` (None: no end)."""

    key: str
    label: str
    from_days: int
    to_days: int | None

    def holds(self, at: datetime) -> Q:
        """Return the condition on when a finding was found."""
        condition = Q(found_at__lte=at - timedelta(days=self.from_days)) if self.from_days else Q()
        if self.to_days is not None:
            condition &= Q(found_at__gt=at - timedelta(days=self.to_days))
        return condition


AGE_BANDS: Final = (
    AgeBand("week", "under a week", 0, 7),
    AgeBand("month", "7 to 29 days", 7, 30),
    AgeBand("quarter", "30 to 89 days", 30, 90),
    AgeBand("half", "90 to 179 days", 90, 180),
    AgeBand("year", "180 to 364 days", 180, 365),
    AgeBand("older", "a year and more", 365, None),
)


@dataclass(frozen=True, slots=True)
class OpenCounts:
    """How many findings are open at a site, by standing and by age."""

    open: int
    repaired: int
    deferred: int
    safety: int
    without_rate: int
    ages: tuple[tuple[AgeBand, int], ...]


def open_counts(site: Site, at: datetime) -> OpenCounts:
    """Count the open findings of a site (one query over the open ones only)."""
    wanted: dict[str, Any] = {
        "all": Count("id"),
        "repaired": Count("id", filter=Q(status=FindingStatus.REPAIRED)),
        "deferred": Count("id", filter=Q(status=FindingStatus.DEFERRED)),
        "safety": Count("id", filter=Q(is_safety=True)),
        "without_rate": Count("id", filter=Q(leak_rate_m3_per_s__isnull=True)),
        **{f"age_{band.key}": Count("id", filter=band.holds(at)) for band in AGE_BANDS},
    }
    found = Finding.objects.filter(OPEN, site=site).aggregate(**wanted)
    ages = tuple((band, found[f"age_{band.key}"]) for band in AGE_BANDS)
    return OpenCounts(
        found["all"], found["repaired"], found["deferred"], found["safety"], found["without_rate"], ages
    )


@dataclass(frozen=True, slots=True)
class MonthCounts:
    """A month's findings as known now: found, closed, and open at its end (now, for the present one)."""

    month_on: date
    found: int
    closed: int
    open_at_end: int
    came_back: int | None = None
    """Known of closed months only: it takes every finding's history."""


def month_counts(site: Site, months: Sequence[date], open_now: int) -> list[MonthCounts]:
    """Count what came and went in each month (one query); dismissed and merged ones don't count.

    Open at a month's end = open now + closed since − found since.
    """
    start, zone = bounds(months[0], site.time_zone)[0], ZoneInfo(site.time_zone)
    rows = Finding.objects.filter(COUNTED, site=site)
    came = _by_month(rows.filter(found_at__gte=start), "found_at", "found", zone)
    went = _by_month(
        rows.filter(status=FindingStatus.CLOSED, closed_at__gte=start), "closed_at", "closed", zone
    )
    numbers = {(kind, _as_date(month)): number for month, kind, number in came.union(went, all=True)}
    counted, open_at_end = [], open_now
    for month_on in reversed(months):
        found, closed = numbers.get(("found", month_on), 0), numbers.get(("closed", month_on), 0)
        counted.append(MonthCounts(month_on, found, closed, open_at_end))
        open_at_end += closed - found
    return counted[::-1]


def as_closed(
    counted: Sequence[MonthCounts], frozen: Sequence[tuple[int, int, int, int] | None]
) -> list[MonthCounts]:
    """Put the counts of closed months in the place of ours, so that a page and its statement say the same.

    A finding that came back forgets that it was closed meanwhile; the closed month does not.
    """
    pairs = zip(counted, frozen, strict=True)
    return [one if kept is None else MonthCounts(one.month_on, *kept) for one, kept in pairs]


def _by_month(rows: Any, moment: str, kind: str, zone: ZoneInfo) -> Any:
    return (
        rows.annotate(month=TruncMonth(moment, tzinfo=zone, output_field=DateField()))
        .values("month")
        .annotate(kind=Value(kind, output_field=CharField()), number=Count("id"))
        .values_list("month", "kind", "number")
    )


def _as_date(month: date | datetime) -> date:
    return month.date() if isinstance(month, datetime) else month
