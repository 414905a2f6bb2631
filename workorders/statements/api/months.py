"""Doors of months: a site's list, one month, the findings behind a figure, closing, and all sites at once."""

from __future__ import annotations

import csv
import io
import uuid
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet
from django.http import HttpResponse
from rest_framework.response import Response

from findings.kinds.release import release_to_json
from findings.plant import queries as plant
from findings.register.queries import releases_of
from plantcare.api.problems import FieldError, Invalid, NotFound
from plantcare.api.views import ActDoor, Door
from workorders.statements import actions, queries
from workorders.statements.api import shapes
from workorders.statements.rules import DEFINITIONS, ShownLine, ShownLines, month_bounds, read_month

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


class MonthNotBegun(NotFound):
    """There is nothing to tell of a month to come."""

    code = "month_not_begun"
    title = "The month has not begun at this site."


class MonthNeverClosed(NotFound):
    """Nothing was frozen."""

    code = "month_not_closed"
    title = "The month was never closed."


class _SiteDoor(Door):
    """A door on one site."""

    room = "statements"
    needs = {"GET": "view"}
    site_field = "id"

    def rows(self) -> QuerySet[Any]:
        """Return all sites."""
        return plant.sites()

    def month_of(self, site: Any) -> date:
        """Return the month that the path names, if it has begun by the site's clock."""
        month_on = read_month(self.kwargs["month"])
        if month_on is None:
            raise NotFound
        if month_bounds(month_on, ZoneInfo(site.time_zone))[0] >= self.at:
            raise MonthNotBegun
        return month_on


class SiteMonths(_SiteDoor):
    """A site's months from its first one to the present: when each begins and ends, and what was closed."""

    operation = "month_list"
    shape = shapes.MonthListShape

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer the list; no figure is worked out for it."""
        site = self.get_object()
        rows = queries.months_of(site, self.at)
        return self.answer({"results": [queries.row_answer(row, site.currency) for row in rows]})


class SiteMonth(_SiteDoor):
    """A site's month: as closed beside as known now, what was booked since, and what each figure means."""

    operation = "month_read"
    shape = shapes.MonthShape

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer the month."""
        site = self.get_object()
        told = queries.month_told(site, self.month_of(site), self.at)
        return self.answer(queries.month_answer(told))


class SiteMonthLines(_SiteDoor):
    """The findings behind one figure of a month with each one's share; as a table by ?format=csv."""

    operation = "month_lines"
    other_media = ("text/csv",)  # by ?format=csv; the schema names it beside JSON
    shape, query_shape = shapes.LinesShape, shapes.LinesQuery

    def get(self, *_: Any, **__: Any) -> Response | HttpResponse:
        """Answer the lines."""
        site = self.get_object()
        month_on, asked = self.month_of(site), self.ask()
        told = queries.month_told(site, month_on, self.at)
        shown = queries.lines_of(told, asked["figure"], at_closing=asked["known"] == "at_closing")
        if shown is None:
            raise MonthNeverClosed
        month = f"{month_on:%Y-%m}"
        if asked["format"] == "csv":
            return _csv(shown, f"{site.code}-{month}-{shown.figure}")
        return self.answer(
            {
                "month": month,
                "figure": shown.figure,
                "definition": DEFINITIONS[shown.figure],
                "unit": shown.unit,
                "total": shown.total,
                "count": len(shown.lines),
                "lines": _with_releases(shown.lines[asked["offset"] : asked["offset"] + asked["limit"]]),
            }
        )


class SiteMonthClosing(_SiteDoor, ActDoor):
    """Close a month that has ended; a month that is closed stays as it is and is answered again."""

    operation = "month_close"
    needs = {"POST": "jobs"}
    shape = shapes.MonthShape
    if_match = "ignored"

    def act(self, obj: Any, data: dict[str, Any]) -> Any:  # noqa: ARG002 - the body is empty
        """Close it and answer it."""
        month_on = self.month_of(obj)
        actions.close_month(actor=self.actor, at=self.at, site_id=obj.pk, month_on=month_on)
        return queries.month_answer(queries.month_told(obj, month_on, self.at))


class Months(Door):
    """One month of all sites that the caller sees, with totals per currency."""

    operation, room = "month_of_sites", "statements"
    needs = {"GET": "view"}
    site_field = "id"
    shape, query_shape = shapes.SitesMonthShape, shapes.SitesQuery

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer the sites; one whose month has not begun is left out."""
        text = self.ask()["month"]
        month_on = read_month(text)
        if month_on is None:
            raise Invalid(errors=[FieldError("?month", "invalid", "A month like 2026-03.")])
        sites = self.narrowed(plant.sites()).order_by("code")
        return self.answer(queries.sites_answer(text, queries.months_told(sites, month_on, self.at)))


def _with_releases(lines: Sequence[ShownLine]) -> list[dict[str, Any]]:
    """Return lines with what the dangerous ones among their findings let out, beside their money."""
    releases = releases_of([uuid.UUID(line.finding_id) for line in lines])
    found = {str(pk): release_to_json(release) for pk, release in releases.items()}
    return [{**asdict(line), "release": found.get(line.finding_id)} for line in lines]


def _csv(shown: ShownLines, name: str) -> HttpResponse:
    text = io.StringIO()
    rows = csv.writer(text)
    rows.writerow(["finding_id", "finding", "area", "value", "unit"])
    for line in shown.lines:
        value = "" if line.value is None else format(line.value, "f")
        rows.writerow([line.finding_id, harmless(line.label), harmless(line.area), value, shown.unit])
    response = HttpResponse(text.getvalue(), content_type="text/csv; charset=utf-8")
    safe = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-_") else "_" for sign in name)
    response.headers["Content-Disposition"] = f'attachment; filename="{safe}.csv"'
    return response


def harmless(cell: str) -> str:
    """Return a text that no spreadsheet takes for a formula."""
    return f"'{cell}" if cell.startswith(FORMULA_SIGNS) else cell
