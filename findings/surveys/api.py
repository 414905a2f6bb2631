"""Doors of the surveys room."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.detectors import queries as detectors
from findings.routes import queries as routes
from findings.surveys import actions, queries
from plantcare.api import filtering, shapes
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, ListDoor


class SurveyShape(shapes.Shape):
    """A walk."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    code = shapes.TextField()
    route_id = shapes.UuidField(allow_null=True)
    instrument_id = shapes.UuidField(allow_null=True)
    inspector_name = shapes.TextField()
    started_at = shapes.AwareDateTimeField()
    ended_at = shapes.AwareDateTimeField(allow_null=True)
    note = shapes.TextField()
    version = shapes.IntegerField()


class SurveyInput(shapes.InputShape):
    """What begins a walk."""

    site_id = shapes.UuidField()
    code = shapes.TextField(max_length=64)
    started_at = shapes.AwareDateTimeField(required=False)
    route_id = shapes.UuidField(required=False, allow_null=True)
    instrument_id = shapes.UuidField(required=False, allow_null=True)
    inspector_name = shapes.TextField(required=False, allow_blank=True, max_length=200)
    note = shapes.TextField(required=False, allow_blank=True, max_length=5000)


class SurveyEndInput(shapes.InputShape):
    """What ends a walk."""

    ended_at = shapes.AwareDateTimeField(required=False)


class SurveyFilters(filtering.StrictFilterSet):
    """Narrow the list of walks."""

    site_id = filtering.UuidFilter()
    route_id = filtering.UuidFilter()
    instrument_id = filtering.UuidFilter()
    running = filtering.BooleanFilter(field_name="ended_at", lookup_expr="isnull")
    started_from = filtering.AwareDateTimeFilter(field_name="started_at", lookup_expr="gte")
    started_to = filtering.AwareDateTimeFilter(field_name="started_at", lookup_expr="lt")
    q = filtering.TextFilter(fields=["code", "inspector_name", "note"])


class Surveys(CreateDoor, ListDoor):
    """Walks: list and begin."""

    noun, room = "survey", "surveys"
    needs = {"GET": "view", "POST": "record"}
    shape, input_shape, filterset_class = SurveyShape, SurveyInput, SurveyFilters
    orderings = {"-started_at": ("-started_at",), "started_at": ("started_at",), "code": ("code",)}
    references = {"route_id": Reference(routes.routes), "instrument_id": Reference(detectors.instruments)}

    def rows(self) -> QuerySet[Any]:
        """Return all walks."""
        return queries.surveys()

    def act(self, data: dict[str, Any]) -> Any:
        """Begin one."""
        return actions.start_survey(actor=self.actor, at=self.at, **{"started_at": self.at, **data})


class Survey(DetailDoor):
    """One walk."""

    noun, room = "survey", "surveys"
    needs = {"GET": "view"}
    shape = SurveyShape

    def rows(self) -> QuerySet[Any]:
        """Return all walks."""
        return queries.surveys()


class SurveyEnd(ActDoor):
    """End a walk."""

    operation, room = "survey_end", "surveys"
    needs = {"POST": "record"}
    shape, input_shape = SurveyShape, SurveyEndInput

    def rows(self) -> QuerySet[Any]:
        """Return all walks."""
        return queries.surveys()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """End it, now unless said otherwise."""
        ended_at = data.get("ended_at", self.at)
        return actions.end_survey(
            actor=self.actor, at=self.at, survey_id=obj.pk, version=self.version, ended_at=ended_at
        )
