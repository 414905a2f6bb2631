"""Doors of findings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from rest_framework.response import Response

from findings.logbook import queries as logbook
from findings.losses import queries as losses
from findings.register import queries
from findings.register.api.shapes import (
    KINDS,
    MEDIA,
    STATUSES,
    ActShape,
    AssessmentShape,
    EvidenceShape,
    FindingDetailShape,
    FindingShape,
    SegmentShape,
)
from findings.register.rules import OPEN_STATUSES
from plantcare.api import filtering
from plantcare.api.pagination import KeysetPagination
from plantcare.api.views import DetailDoor, ListDoor


class OpenFilter(filtering.BooleanFilter):
    """?open=true: still on somebody's list; repaired and not yet verified is open."""

    def filter(self, qs: QuerySet[Any], value: Any) -> QuerySet[Any]:
        """Return the open ones, or the others."""
        if value is None:
            return qs
        return qs.filter(status__in=OPEN_STATUSES) if value else qs.exclude(status__in=OPEN_STATUSES)


class FindingFilters(filtering.StrictFilterSet):
    """Narrow the list of findings."""

    site_id = filtering.UuidFilter()
    kind = filtering.ChoicesFilter(choices=KINDS)
    status = filtering.ChoicesFilter(choices=STATUSES)
    open = OpenFilter()
    asset_id = filtering.UuidsFilter(lookup_expr="in")
    area_id = filtering.UuidsFilter(field_name="asset__area_id", lookup_expr="in")
    point_id = filtering.UuidFilter()
    system_id = filtering.UuidFilter()
    is_safety = filtering.BooleanFilter()
    medium = filtering.ChoicesFilter(choices=MEDIA)
    found_from = filtering.AwareDateTimeFilter(field_name="found_at", lookup_expr="gte")
    found_to = filtering.AwareDateTimeFilter(field_name="found_at", lookup_expr="lt")
    q = filtering.TextFilter(fields=["number", "asset__code", "asset__name", "point__code"])


class Findings(ListDoor):
    """Findings with their rate and present cost."""

    noun, room = "finding", "register"
    needs = {"GET": "view"}
    shape, filterset_class = FindingShape, FindingFilters
    orderings = {
        "-found_at": ("-found_at",),
        "found_at": ("found_at",),
        "-leak_rate": ("-leak_rate_m3_per_s",),
        "leak_rate": ("leak_rate_m3_per_s",),
        "number": ("number",),
        "-number": ("-number",),
    }

    def rows(self) -> QuerySet[Any]:
        """Return all findings."""
        return queries.findings()

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer one page, every cost of it from one look at the prices."""
        rows = self.filterset_class.narrow(self.request, self.narrowed(self.rows()))
        pages = KeysetPagination()
        page = pages.paginate_queryset(rows, self.request, view=self)
        context = {**self.get_serializer_context(), "costs": queries.costs_of(page, self.at)}
        return pages.get_paginated_response(self.shape(page, many=True, context=context).data)


class Finding(DetailDoor):
    """One finding with its assessment, cost, cautions and the moves open to it."""

    noun, room = "finding", "register"
    needs = {"GET": "view"}
    shape = FindingDetailShape
    conditional = False
    around: Mapping[str, Any] = {}

    def rows(self) -> QuerySet[Any]:
        """Return all findings."""
        return queries.findings()

    def get_object(self) -> Any:
        """Return the finding, and keep at hand what is shown beside it."""
        found = super().get_object()
        self.around = queries.around(found, self.at)
        return found

    def get_serializer_context(self) -> dict[str, Any]:
        """Return the framework's context with the finding's cost and assessment."""
        return {**super().get_serializer_context(), **self.around}


class OfFinding(ListDoor):
    """A list below one finding, which the caller has to be allowed to see."""

    room = "register"
    needs = {"GET": "view"}
    filterset_class = filtering.StrictFilterSet

    def finding(self) -> Any:
        """Return the finding. Raises NotFound."""
        return self.one(queries.findings(), self.kwargs["id"])

    def finding_id(self) -> Any:
        """Return the id of the finding. Raises NotFound."""
        return self.finding().pk


class FindingReadings(OfFinding):
    """The readings that speak for or about a finding."""

    noun = "finding_reading"
    shape = EvidenceShape
    orderings = {"taken_at": ("reading__taken_at",), "-taken_at": ("-reading__taken_at",)}

    def rows(self) -> QuerySet[Any]:
        """Return its evidence."""
        return queries.evidence_of(self.finding_id())


class FindingAssessments(OfFinding):
    """Everything that was ever computed for a finding."""

    noun = "finding_assessment"
    shape = AssessmentShape
    orderings = {"-at": ("-at", "-recorded_at"), "at": ("at", "recorded_at")}

    def rows(self) -> QuerySet[Any]:
        """Return its assessments."""
        return queries.assessments_of(self.finding_id())


class SegmentFilters(filtering.StrictFilterSet):
    """Leave superseded segments out, or show only them."""

    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)


class FindingSegments(OfFinding):
    """A finding's loss: a chain of dated segments, superseded ones included."""

    noun = "finding_segment"
    shape, filterset_class = SegmentShape, SegmentFilters
    orderings = {"started_at": ("started_at", "recorded_at"), "-started_at": ("-started_at", "-recorded_at")}

    def rows(self) -> QuerySet[Any]:
        """Return its segments."""
        return losses.segments_of(self.finding_id(), with_void=True)


class FindingHistory(OfFinding):
    """Every act on a finding."""

    noun = "finding_act"
    shape = ActShape
    orderings = {"sequence": ("sequence",), "-sequence": ("-sequence",)}

    def rows(self) -> QuerySet[Any]:
        """Return its acts."""
        return logbook.history_of(self.finding_id())
