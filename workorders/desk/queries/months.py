"""A site's months in figures: as closed, and as known now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from findings.plant.models import Site
from workorders.desk.rules.months import month_of
from workorders.statements.models import ClosedMonth, Correction
from workorders.statements.rules import LedgerError, PriceGapsError, quantise, to_json

MOST_MONTHS = 120


@dataclass(frozen=True, slots=True)
class Known:
    """A month's figures as JSON values, or why there are none."""

    month_on: date
    figures: Mapping[str, Any]
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class MonthMoney:
    """A month's three columns, as closed or as known now; None where no figure was ever made."""

    month_on: date
    accrued: Decimal | None = None
    avoided_verified: Decimal | None = None
    avoided_claimed: Decimal | None = None
    closed_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class MonthTold:
    """One month: known now, as closed (None: not closed yet), and what was corrected since."""

    known: Known
    closed: ClosedMonth | None
    corrections: list[Correction]


def figures_of(site: Site, month_on: date, at: datetime) -> Known:
    """Work out a month as known now; missing prices are told, not guessed."""
    try:
        figures = _month_figures(site, month_on, at)
    except PriceGapsError as gaps:
        return Known(month_on, {}, str(gaps))
    except (LedgerError, ValueError) as refused:
        return Known(month_on, {}, str(refused))
    found: Any = to_json(figures)
    return Known(month_on, found)


def figures_now(site: Site, at: datetime) -> Known:
    """Work out the present month so far."""
    return figures_of(site, month_of(at, site.time_zone), at)


def money_by_month(site: Site, months: Sequence[date], present: Known) -> list[MonthMoney]:
    """Return the money of months as closed (one query); the present one as known now."""
    rows = ClosedMonth.objects.filter(site=site, month_on__in=list(months)).defer("figures")
    closed = {row.month_on: row for row in rows}
    return [_money(month_on, closed.get(month_on), present) for month_on in months]


def _money(month_on: date, closed: ClosedMonth | None, present: Known) -> MonthMoney:
    if closed is not None:
        return MonthMoney(
            month_on,
            closed.accrued_cost,
            closed.avoided_verified,
            closed.avoided_claimed,
            closed.closed_at,
        )
    total = present.figures.get("total", {}) if month_on == present.month_on else {}

    def known(name: str) -> Decimal | None:
        return quantise(Decimal(total[name])) if name in total else None

    return MonthMoney(month_on, known("accrued"), known("avoided_verified"), known("avoided_claimed"))


def closed_months(site: Site) -> list[ClosedMonth]:
    """Return the closed months without their figures, newest first (one query)."""
    rows = ClosedMonth.objects.filter(site=site).defer("figures")
    return list(rows.order_by("-month_on")[:MOST_MONTHS])


def month_told(site: Site, month_on: date, at: datetime) -> MonthTold:
    """Return one month as known now and as closed."""
    closed = ClosedMonth.objects.filter(site=site, month_on=month_on).first()
    corrections = Correction.objects.filter(site=site, month__month_on=month_on).order_by("booked_in_on")
    return MonthTold(figures_of(site, month_on, at), closed, list(corrections))


def _month_figures(site: Site, month_on: date, at: datetime) -> Any:
    raise ValueError("The figures of months are not wired yet.")
