"""The first page of a site, and the months behind its charts as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django.http import HttpRequest, HttpResponse

from findings.kinds.base import Kind, Medium
from findings.kinds.cautions import Caution, cautions
from findings.plant.rules import Right
from workorders.desk.pages.base import DeskPage
from workorders.desk.queries import costs, counts, months, notices
from workorders.desk.queries.findings import short_lists
from workorders.desk.queries.orders import overdue_orders
from workorders.desk.rules.charts import Chart, Series, month_chart, share_of
from workorders.desk.rules.definitions import leading, told
from workorders.desk.rules.figures import month_name, per_month
from workorders.desk.rules.months import bounds, last_months
from workorders.desk.rules.words import compared

MONTHS_SHOWN = 12
MOST_DANGERS = 3
BAND_WIDTH = 150.0


class SiteDesk(DeskPage):
    """What is open, what it costs, what comes first."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW}
    template = "desk/desk.html"
    here = "desk"

    def get(self, _request: HttpRequest, code: str) -> HttpResponse:
        """Show the page, from a bounded number of queries."""
        site = self.see(code)
        shown = last_months(self.at, site.time_zone, MONTHS_SHOWN)
        started_at = bounds(shown[-1], site.time_zone)[0]
        prices = costs.costs_at(site, self.at)
        losses = costs.losses_since(site, prices, started_at, self.at)
        opened = counts.open_counts(site, self.at)
        money = months.money_by_month(site, shown, losses.accrued)
        by_month = counts.as_closed(
            counts.month_counts(site, shown, opened.open), [month.counts for month in money]
        )
        lists = short_lists(site, prices)
        closed = months.last_closed(site)
        present, key = present_figures(by_month[-1], opened, losses), f"{shown[-1]:%Y-%m}"
        fullest = max((number for _, number in opened.ages), default=0)
        return self.show(
            opened=opened,
            losses=losses,
            loss_per_month=per_month(losses.cost_per_hour),
            months=by_month,
            this_month=by_month[-1],
            first_month=by_month[0],
            against=compared(opened.open, by_month[0].open_at_end),
            count_chart=count_chart(by_month),
            money=money,
            money_chart=money_chart(money, site.currency),
            ages=[(band, number, share_of(number, fullest, BAND_WIDTH)) for band, number in opened.ages],
            lists=lists,
            dangers=dangers_of(lists.safety[:MOST_DANGERS]),
            more_dangers=len(lists.safety) > MOST_DANGERS,
            overdue=overdue_orders(site, self.at),
            present=told(present, site.currency, key),
            present_leading=leading(present, site.currency, key),
            **as_closed(closed),
            asked=notices.asked_of(site, self.rights),
            deferrals=notices.deferrals_waiting(site) if Right.APPROVE_DEFERRAL in self.rights else [],
        )


def present_figures(
    month: counts.MonthCounts, opened: counts.OpenCounts, losses: costs.Losses
) -> dict[str, object]:
    """Return the figures of the present month that need no finding's history."""
    total: dict[str, object] = {
        "found": month.found,
        "closed": month.closed,
        "open_end": opened.open,
    }
    if losses.accrued is not None and (losses.priced or not losses.unpriced):
        total["accrued"] = losses.accrued
    return {"total": total, "without_loss": opened.without_rate}


def as_closed(month: Any) -> dict[str, Any]:
    """Return the last closed month with its figures in words; nothing where none is closed."""
    if month is None:
        return {"closed": None}
    key = f"{month.month_on:%Y-%m}"
    return {
        "closed": month,
        "closed_figures": told(month.figures, month.currency, key),
        "closed_leading": leading(month.figures, month.currency, key),
    }


def dangers_of(found: Sequence[Any]) -> list[tuple[tuple[Caution, ...], list[Any]]]:
    """Group safety findings by the cautions they carry, so that each caution is said once."""
    groups: dict[tuple[Caution, ...], list[Any]] = {}
    for finding in found:
        medium = Medium(finding.medium) if finding.medium else None
        groups.setdefault(cautions(Kind(finding.kind), medium), []).append(finding)
    return list(groups.items())


def count_chart(by_month: Sequence[counts.MonthCounts]) -> Chart:
    """Draw what came and was closed in each month, and what was open at each month's end."""
    return month_chart(
        [month_name(month.month_on) for month in by_month],
        [
            Series(
                "found", "found or come back", [month.found + (month.came_back or 0) for month in by_month]
            ),
            Series("closed", "closed", [month.closed for month in by_month]),
        ],
        Series("open", "open at the end", [month.open_at_end for month in by_month]),
    )


def money_chart(money: Sequence[months.MonthMoney], currency: str) -> Chart:
    """Draw the leak cost of each month beside what was avoided, verified and claimed apart."""

    def values(name: str) -> list[float | None]:
        found = [getattr(month, name) for month in money]
        return [None if value is None else float(value) for value in found]

    return month_chart(
        [month_name(month.month_on) for month in money],
        [
            Series("accrued", "leak cost", values("accrued")),
            Series("verified", "avoided, verified", values("avoided_verified")),
            Series("claimed", "avoided, not yet verified", values("avoided_claimed")),
        ],
        unit=currency,
    )


class MonthsCsv(DeskPage):
    """The figures behind both charts, as a table for other programs."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW}

    def get(self, _request: HttpRequest, code: str) -> HttpResponse:
        """Answer text/csv, months as 2026-03, decimals with a point."""
        site = self.see(code)
        shown = last_months(self.at, site.time_zone, MONTHS_SHOWN)
        opened = counts.open_counts(site, self.at)
        started_at = bounds(shown[-1], site.time_zone)[0]
        losses = costs.losses_since(site, costs.costs_at(site, self.at), started_at, self.at)
        money = months.money_by_month(site, shown, losses.accrued)
        by_month = counts.as_closed(
            counts.month_counts(site, shown, opened.open), [month.counts for month in money]
        )
        text = io.StringIO()
        rows = csv.writer(text)
        rows.writerow(
            [
                "month", "found", "came_back", "closed", "open_at_end", "currency", "accrued_cost",
                "avoided_verified", "avoided_claimed", "month_closed_at",
            ]
        )  # fmt: skip
        for count, amount in zip(by_month, money, strict=True):
            rows.writerow(
                [
                    f"{count.month_on:%Y-%m}", count.found, count.came_back, count.closed,
                    count.open_at_end, site.currency,
                    amount.accrued, amount.avoided_verified, amount.avoided_claimed,
                    amount.closed_at.isoformat() if amount.closed_at else "",
                ]
            )  # fmt: skip
        response = HttpResponse(text.getvalue(), content_type="text/csv; charset=utf-8")
        response.headers["Content-Disposition"] = f'attachment; filename="months-{self.at:%Y-%m-%d}.csv"'
        return response
