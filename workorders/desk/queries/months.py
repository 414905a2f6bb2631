"""The money of a site's months for the first page: as closed, and for the present month what is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models.fields.json import KT

from findings.plant.models import Site
from workorders.statements import queries as statements
from workorders.statements.models import ClosedMonth
from workorders.statements.queries import MonthRow, MonthTold
from workorders.statements.rules import LedgerError, quantise

__all__ = ["MonthMoney", "MonthRow", "MonthTold", "last_closed", "money_by_month", "month_told", "months_of"]


_COUNTS = {
    "counted_found": "figures__total__found",
    "counted_closed": "figures__total__closed",
    "counted_open_end": "figures__total__open_end",
    "counted_reopened": "figures__total__reopened",
}


@dataclass(frozen=True, slots=True)
class MonthMoney:
    """A month's three columns; None where no figure was made yet."""

    month_on: date
    accrued: Decimal | None = None
    avoided_verified: Decimal | None = None
    avoided_claimed: Decimal | None = None
    closed_at: datetime | None = None
    counts: tuple[int, int, int, int] | None = None
    """Found, closed, open at the end and come back, as the month was closed."""


def money_by_month(site: Site, months: Sequence[date], accrued_now: Decimal | None) -> list[MonthMoney]:
    """Return the money of months as closed (one query), the last one with what has accrued by now.

    What the present month avoided takes every finding's history: its own page works it out.
    """
    rows = ClosedMonth.objects.filter(site=site, month_on__in=list(months)).defer("figures")
    closed = {
        row.month_on: row for row in rows.annotate(**{name: KT(path) for name, path in _COUNTS.items()})
    }
    told = [_money(month_on, closed.get(month_on)) for month_on in months]
    if told and told[-1].closed_at is None and accrued_now is not None:
        told[-1] = MonthMoney(told[-1].month_on, quantise(accrued_now))
    return told


def _money(month_on: date, row: Any) -> MonthMoney:
    if row is None:
        return MonthMoney(month_on)
    found, closed, open_end, back = (getattr(row, name) for name in _COUNTS)
    counts = None if found is None else (int(found), int(closed), int(open_end), int(back or 0))
    return MonthMoney(
        month_on, row.accrued_cost, row.avoided_verified, row.avoided_claimed, row.closed_at, counts
    )


def last_closed(site: Site) -> ClosedMonth | None:
    """Return the last month that was closed, with its figures (one query)."""
    return ClosedMonth.objects.filter(site=site).order_by("-month_on").first()


def months_of(site: Site, at: datetime) -> list[MonthRow]:
    """Return a site's months, the newest first (three queries)."""
    return statements.months_of(site, at)


def month_told(site: Site, month_on: date, at: datetime) -> tuple[MonthTold | None, str]:
    """Return one month as known now and as closed (ten queries), or why it cannot be told."""
    try:
        return statements.month_told(site, month_on, at), ""
    except (LedgerError, ValueError) as refused:
        return None, str(refused)
