"""The list of findings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.http import HttpRequest, HttpResponse

from findings.kinds.registry import KINDS
from findings.plant.rules import Right
from findings.register.rules import FindingStatus
from workorders.desk.pages.base import DeskPage
from workorders.desk.queries import costs, counts, sites
from workorders.desk.queries.findings import FindingFilter, finding_list, orders_of
from workorders.desk.rules import words
from workorders.desk.rules.months import read_month

STATUSES = [
    ("", "all open"),
    *((status.value, words.plain(status.value)) for status in FindingStatus),
    ("all", "every one ever"),
]
ORDERS = [("newest", "newest first"), ("oldest", "oldest first"), ("dearest", "dearest first")]


class FindingFilterForm(forms.Form):
    """What the list is narrowed to; everything may be left empty."""

    text = forms.CharField(required=False, max_length=100, label="Asset, point or number")
    status = forms.ChoiceField(required=False, label="Standing", choices=[*STATUSES, ("counted", "")])
    kind = forms.ChoiceField(required=False, label="Kind")
    area = forms.ChoiceField(required=False, label="Area")
    order = forms.ChoiceField(required=False, label="Sorted", choices=ORDERS)
    safety = forms.BooleanField(required=False, label="Safety only")
    asked = forms.BooleanField(required=False, label="Asked of me")
    age = forms.ChoiceField(
        required=False, choices=[("", ""), *((band.key, band.label) for band in counts.AGE_BANDS)]
    )
    found = forms.CharField(required=False, max_length=7)
    closed = forms.CharField(required=False, max_length=7)

    def __init__(self, data: Any, areas: list[Any]) -> None:
        super().__init__(data, label_suffix="")
        kinds = [("", "any kind"), *((kind.value, kinds.label) for kind, kinds in KINDS.items())]
        choices: dict[str, Any] = {
            "kind": kinds,
            "area": [("", "anywhere"), *((str(area.pk), f"{area.code} {area.name}") for area in areas)],
            "status": STATUSES,
        }
        for name, values in choices.items():
            field: Any = self.fields[name]
            field.widget.choices = values
            if name != "status":
                field.choices = values

    def wanted(self, rights: frozenset[Right]) -> FindingFilter:
        """Return the filter for somebody with these rights; a value that cannot be read narrows nothing."""
        self.is_valid()
        given = self.cleaned_data
        return FindingFilter(
            status=given.get("status", ""),
            kind=given.get("kind", ""),
            area_id=given.get("area") or None,
            safety=given.get("safety", False),
            text=given.get("text", ""),
            age=given.get("age", ""),
            found_in=read_month(given.get("found", "")),
            closed_in=read_month(given.get("closed", "")),
            asked_of=rights if given.get("asked") else None,
        )


class Findings(DeskPage):
    """Findings, filtered and in order, fifty at a time."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW}
    template = "desk/findings.html"
    here = "findings"

    def get(self, request: HttpRequest, code: str) -> HttpResponse:
        """Show a slice of the list."""
        site = self.see(code)
        form = FindingFilterForm(request.GET, sites.areas_of(site))
        wanted = form.wanted(self.rights)
        order = form.cleaned_data.get("order") or "newest"
        found = finding_list(
            site,
            wanted,
            order=order,
            after=request.GET.get("after", ""),
            at=self.at,
            costs=costs.costs_at(site, self.at),
        )
        bands = {band.key: band.label for band in counts.AGE_BANDS}
        return self.show(
            form=form,
            wanted=wanted,
            age_label=bands.get(wanted.age, ""),
            found=found,
            orders=orders_of([row.pk for row in found.rows], self.at),
            continued=bool(request.GET.get("after")),
        )
