"""Months: the years of a site by month, and one month with every figure and its definition."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from django.http import HttpRequest, HttpResponse

from findings.plant.rules import Right
from plantcare.api.problems import NotFound
from workorders.desk.pages.base import DeskPage
from workorders.desk.queries import months
from workorders.desk.rules.definitions import told
from workorders.desk.rules.months import month_after, month_of, read_month


class Months(DeskPage):
    """The months that were closed, newest first, and the present one."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW}
    template = "desk/months.html"
    here = "months"

    def get(self, _request: HttpRequest, code: str) -> HttpResponse:
        """Show the table."""
        site = self.see(code)
        return self.show(rows=months.months_of(site, self.at))


class Month(DeskPage):
    """One month: as known now, and as closed where it is closed."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW}
    template = "desk/month.html"
    here = "months"

    def get(self, _request: HttpRequest, code: str, month: str) -> HttpResponse:
        """Show the figures with their definitions and the lines they are made of."""
        site = self.see(code)
        month_on, present = read_month(month), month_of(self.at, site.time_zone)
        if month_on is None or month_on > present:
            raise NotFound
        found, why_not = months.month_told(site, month_on, self.at)
        return self.show(
            month_on=month_on,
            before=month_after(month_on, -1),
            after=month_after(month_on) if month_on < present else None,
            found=found,
            why_not=[why_not] if why_not else sorted(set(found.known.refused.values())) if found else [],
            told=told(found.known_form, site.currency, month) if found else [],
            closed_figures=told(found.closed.figures, found.closed.currency, month)
            if found and found.closed
            else [],
        )
