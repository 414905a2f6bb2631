"""Months as they are answered to whoever asks for them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any, Final
from zoneinfo import ZoneInfo

from workorders.statements.models import Correction
from workorders.statements.queries.months import MonthRow, MonthTold, money_of
from workorders.statements.rules import (
    COLUMNS,
    DEFINITIONS,
    ShownLines,
    month_bounds,
    shown_figures,
    shown_lines,
)

COUNTS_OF_SITES: Final = ("found", "repaired", "closed", "reopened", "open_end")


def row_answer(row: MonthRow, currency: str) -> dict[str, Any]:
    """Return one month of a list."""
    closed = row.closed
    money = dict.fromkeys(COLUMNS) if closed is None else money_of(closed)
    return {
        "month": f"{row.month_on:%Y-%m}",
        "status": "open" if closed is None else "closed",
        "from_at": row.start_at,
        "to_at": row.end_at,
        "closed_at": None if closed is None else closed.closed_at,
        "currency": currency,
        **money,
        "corrections": row.corrections,
    }


def month_answer(told: MonthTold) -> dict[str, Any]:
    """Return a month: as closed beside as known now, what was booked since, and what each figure means."""
    closed = told.closed
    start, end = month_bounds(told.month_on, ZoneInfo(told.site.time_zone))
    return {
        "site_id": told.site.pk,
        "month": f"{told.month_on:%Y-%m}",
        "status": "open" if closed is None else "closed",
        "from_at": start,
        "to_at": end,
        "closed_at": None if closed is None else closed.closed_at,
        "closed_by": None if closed is None else closed.actor_name,
        "inputs_digest": None if closed is None else bytes(closed.inputs_digest).hex(),
        "as_closed": None if closed is None else shown_figures(closed.figures),
        "as_known_now": shown_figures(told.known_form),
        "corrections": [_correction(row, told.site.currency) for row in told.corrections],
        "definitions": dict(DEFINITIONS),
    }


def _correction(row: Correction, currency: str) -> dict[str, Any]:
    return {
        "id": row.pk,
        "booked_in": f"{row.booked_in_on:%Y-%m}",
        "at": row.at,
        "currency": currency,
        **money_of(row),
        "counts": row.detail.get("counts", {}),
        "findings": row.detail.get("findings", []),
        "findings_changed": row.detail.get("findings_changed", 0),
    }


def lines_of(told: MonthTold, figure: str, *, at_closing: bool) -> ShownLines | None:
    """Return the findings behind a figure, as known now or as closed; None where it was never closed."""
    if not at_closing:
        return shown_lines(told.known_form, figure)
    return None if told.closed is None else shown_lines(told.closed.figures, figure)


def sites_answer(month: str, months: Sequence[MonthTold]) -> dict[str, Any]:
    """Return one month of several sites with totals per currency, which are never added to each other."""
    sites = [_site(told) for told in months]
    by_currency: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for site in sites:
        by_currency[site["currency"]].append(site)
    return {
        "month": month,
        "sites": sites,
        "totals": [_total(currency, rows) for currency, rows in sorted(by_currency.items())],
    }


def _site(told: MonthTold) -> dict[str, Any]:
    figures = shown_figures(told.known_form)
    money = {name: None if figures[name] is None else figures[name]["amount"] for name in COLUMNS}
    return {
        "site_id": told.site.pk,
        "code": told.site.code,
        "name": told.site.name,
        "status": "open" if told.closed is None else "closed",
        "currency": told.site.currency,
        **money,
        **{name: figures[name] for name in COUNTS_OF_SITES},
        "refused": figures["refused"],
    }


def _total(currency: str, rows: Iterable[dict[str, Any]]) -> dict[str, Any]:
    """Add the sites of one currency; a sum that lacks a part is none."""
    rows = list(rows)
    sums: dict[str, Decimal | None] = {}
    for name in COLUMNS:
        parts = [row[name] for row in rows]
        sums[name] = None if None in parts else sum(parts, Decimal(0))
    return {
        "currency": currency,
        "sites": len(rows),
        **sums,
        **{name: sum(row[name] for row in rows) for name in COUNTS_OF_SITES},
    }
