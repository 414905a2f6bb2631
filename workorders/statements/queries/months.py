"""A site's months: which there are, what is known of each now, and what was closed and booked."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import cached_property
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.db.models import Count, Min, QuerySet

from findings.plant.models import Site
from findings.register.models import Finding
from workorders.statements.models import ClosedMonth, Correction
from workorders.statements.queries.facts import SiteFacts, facts_of
from workorders.statements.rules import (
    COLUMNS,
    Booking,
    MonthFigures,
    inputs_digest,
    month_after,
    month_at,
    month_bounds,
    months_from,
    to_json,
)
from workorders.statements.rules import month_figures as figures_from

MOST_MONTHS: Final = 240
"""Twenty years: what a list of months shows at most, the newest first."""


def month_figures(site: Site, month_on: date, as_of: datetime) -> MonthFigures:
    """Work out a site's month from what was recorded by a moment (eight queries).

    A figure that lacks a price is None and told in ``refused``. Raises ValueError when the month has not
    begun, LedgerError when its counts do not balance.
    """
    return figures_of(facts_for(site, month_on, as_of), month_on)


def figures_of(facts: SiteFacts, month_on: date) -> MonthFigures:
    """Work out a month from facts that were read already."""
    return figures_from(facts.histories, facts.prices, month_on, facts.zone, facts.as_of, strict=False)


def digest_of(facts: SiteFacts, month_on: date) -> bytes:
    """Hash what a month's figures stand on."""
    return inputs_digest(facts.histories, facts.prices, month_on, facts.zone, facts.as_of)


def facts_for(site: Site, month_on: date, as_of: datetime) -> SiteFacts:
    """Read what a month of a site is made of."""
    _, end = month_bounds(month_on, ZoneInfo(site.time_zone))
    return facts_of([site], as_of, end)[site.pk]


def closed_months() -> QuerySet[ClosedMonth]:
    """Return all closed months; a door narrows them to the caller's sites."""
    return ClosedMonth.objects.select_related("site")


def corrections_of(month: ClosedMonth) -> list[Correction]:
    """Return what was booked for a closed month since, oldest first."""
    return list(Correction.objects.filter(month=month).order_by("booked_in_on"))


def closed_month(site_id: uuid.UUID, month_on: date) -> ClosedMonth | None:
    """Return a month as it was closed, if it was."""
    return ClosedMonth.objects.filter(site_id=site_id, month_on=month_on).first()


def money_of(row: ClosedMonth | Correction) -> dict[str, Decimal]:
    """Return the three columns of money of a row."""
    return {name: getattr(row, name) for name in COLUMNS}


def booking_from(row: Correction) -> Booking:
    """Return what a correction booked, as the rule compares it."""
    return Booking(money_of(row), row.detail.get("counts", {}))


def first_month(site: Site) -> date | None:
    """Return the first month of a site that is to be closed; None while nothing was found.

    It is that of the first finding, but none before the site was kept here: those come with an
    import, and nobody was told their figures.
    """
    found_at = Finding.objects.filter(site=site).aggregate(first=Min("found_at"))["first"]
    if found_at is None:
        return None
    return month_at(max(found_at, site.created_at), ZoneInfo(site.time_zone))


@dataclass(frozen=True, slots=True)
class MonthRow:
    """One month of a list: closed (with what was closed and how often corrected) or open."""

    month_on: date
    start_at: datetime
    end_at: datetime
    closed: ClosedMonth | None
    corrections: int


def months_of(site: Site, at: datetime) -> list[MonthRow]:
    """Return a site's months from its first one to the present, the newest first (three queries)."""
    zone = ZoneInfo(site.time_zone)
    rows = ClosedMonth.objects.filter(site=site).defer("figures").order_by("-month_on")
    closed = {row.month_on: row for row in rows[:MOST_MONTHS]}
    booked = dict(Correction.objects.filter(site=site).values_list("month_id").annotate(number=Count("id")))
    present = month_at(at, zone)
    first = min([*closed, first_month(site) or present])
    shown = months_from(max(first, month_after(present, 1 - MOST_MONTHS)), present)
    return [_row(month_on, zone, closed.get(month_on), booked) for month_on in reversed(shown)]


def _row(
    month_on: date, zone: ZoneInfo, closed: ClosedMonth | None, booked: Mapping[uuid.UUID, int]
) -> MonthRow:
    start_at, end_at = month_bounds(month_on, zone)
    return MonthRow(month_on, start_at, end_at, closed, booked.get(closed.pk, 0) if closed is not None else 0)


@dataclass(frozen=True)
class MonthTold:
    """One month of a site: as closed (None: not closed yet), as known now, and what was booked since."""

    site: Site
    month_on: date
    closed: ClosedMonth | None
    known: MonthFigures
    corrections: Sequence[Correction] = ()

    @cached_property
    def known_form(self) -> Mapping[str, Any]:
        """Return what is known now as JSON values."""
        form: Any = to_json(self.known)
        return dict(form)


def month_told(site: Site, month_on: date, at: datetime) -> MonthTold:
    """Return one month of a site (ten queries). Raises what month_figures raises."""
    known = month_figures(site, month_on, at)
    closed = closed_month(site.pk, month_on)
    corrections = corrections_of(closed) if closed is not None else []
    return MonthTold(site, month_on, closed, known, corrections)


def months_told(sites: Iterable[Site], month_on: date, at: datetime) -> list[MonthTold]:
    """Return one month of several sites, each by its own calendar (ten queries, however many sites).

    A site whose month has not begun is left out.
    """
    begun = [site for site in sites if month_bounds(month_on, ZoneInfo(site.time_zone))[0] < at]
    ends = [month_bounds(month_on, ZoneInfo(site.time_zone))[1] for site in begun]
    if not begun:
        return []
    facts = facts_of(begun, at, max(ends))
    rows = ClosedMonth.objects.filter(site__in=begun, month_on=month_on)
    closed = {row.site_id: row for row in rows}
    booked: dict[uuid.UUID, list[Correction]] = {}
    for row in Correction.objects.filter(month__in=rows).order_by("booked_in_on"):
        booked.setdefault(row.site_id, []).append(row)
    return [
        MonthTold(
            site,
            month_on,
            closed.get(site.pk),
            figures_of(facts[site.pk], month_on),
            booked.get(site.pk, []),
        )
        for site in begun
    ]
