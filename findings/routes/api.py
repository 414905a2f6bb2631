"""Doors of routes, their stops and visit requests."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.response import Response

from findings.plant import queries as plant
from findings.plant.rules import Right
from findings.routes import actions, queries
from findings.routes.rules import VisitReason, VisitState
from plantcare.api import filtering, shapes
from plantcare.api.identifiers import uuid7
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor, ChangeDoor, CreateDoor, ListDoor

REASONS = [(r.value, r.value) for r in VisitReason]
STATES = [(s.value, s.value) for s in VisitState]


class RouteShape(shapes.Shape):
    """A walk that is done again and again."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    code = shapes.TextField()
    name = shapes.TextField()
    interval_days = shapes.IntegerField(allow_null=True)
    retired_at = shapes.AwareDateTimeField(allow_null=True)
    version = shapes.IntegerField()
    created_at = shapes.AwareDateTimeField()


class RouteInput(shapes.InputShape):
    """A new route."""

    site_id = shapes.UuidField()
    code = shapes.TextField(max_length=32)
    name = shapes.TextField(max_length=200)
    interval_days = shapes.IntegerField(min_value=1, max_value=3_660, required=False, allow_null=True)


class RouteChange(shapes.InputShape):
    """What may change about a route."""

    code = shapes.TextField(max_length=32)
    name = shapes.TextField(max_length=200)
    interval_days = shapes.IntegerField(min_value=1, max_value=3_660, allow_null=True)
    retired = shapes.BooleanField()


class RouteFilters(filtering.StrictFilterSet):
    """Filters of routes."""

    site_id = filtering.UuidFilter()
    in_use = filtering.BooleanFilter(field_name="retired_at", lookup_expr="isnull")
    code = filtering.CodeFilter()
    q = filtering.TextFilter(fields=["code", "name"])


class Routes(CreateDoor, ListDoor):
    """Routes."""

    noun, room = "route", "routes"
    needs = {"GET": Right.VIEW, "POST": Right.PLAN}
    shape, input_shape, filterset_class = RouteShape, RouteInput, RouteFilters
    orderings = {"code": ("code",), "name": ("name",)}

    def rows(self) -> QuerySet[Any]:
        """Return all routes."""
        return queries.routes()

    def act(self, data: dict[str, Any]) -> Any:
        """Make a route."""
        return actions.add_route(actor=self.actor, at=self.at, **data)


class Route(ChangeDoor):
    """One route."""

    noun, room = "route", "routes"
    needs = {"GET": Right.VIEW, "PATCH": Right.PLAN}
    shape, input_shape = RouteShape, RouteChange

    def rows(self) -> QuerySet[Any]:
        """Return all routes."""
        return queries.routes()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Change or retire the route."""
        return actions.change_route(
            actor=self.actor, at=self.at, route_id=obj.pk, version=self.version, **data
        )


class StopShape(shapes.Shape):
    """One point at its place in a route."""

    position = shapes.IntegerField()
    point_id = shapes.UuidField()
    point_code = shapes.TextField(source="point.code")
    asset_id = shapes.UuidField(source="point.asset_id")
    asset_code = shapes.TextField(source="point.asset.code")
    access_restrictions = shapes.ListField(child=shapes.TextField(), source="point.asset.access_restrictions")


class StopsShape(RouteShape):
    """A route with its stops in walking order."""

    stops = serializers.SerializerMethodField()

    def get_stops(self, route: Any) -> list[dict[str, Any]]:
        """Return the stops."""
        return list(StopShape(queries.stops_of(route.pk), many=True).data)


class StopsInput(shapes.InputShape):
    """All stops, in walking order; they replace the present ones."""

    point_ids = shapes.ListField(child=shapes.UuidField(), max_length=1_000)


class RouteStops(ActDoor):
    """The stops of a route: read them, or replace them all."""

    noun, room = "route_stops", "routes"
    verbs = {"GET": "read", "POST": "replace"}
    needs = {"GET": Right.VIEW, "POST": Right.PLAN}
    shape, input_shape = StopsShape, StopsInput
    if_match = "required"

    def rows(self) -> QuerySet[Any]:
        """Return all routes."""
        return queries.routes()

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer the route with its stops."""
        return self.answer(self.get_object())

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Replace the stops."""
        return actions.set_stops(actor=self.actor, at=self.at, route_id=obj.pk, version=self.version, **data)


class VisitShape(shapes.Shape):
    """A wish that a point be visited by a day."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    point_id = shapes.UuidField()
    point_code = shapes.TextField(source="point.code")
    asset_id = shapes.UuidField(source="point.asset_id")
    asset_code = shapes.TextField(source="point.asset.code")
    reason = shapes.ChoiceField(choices=REASONS)
    origin = shapes.TextField()
    note = shapes.TextField()
    due_on = shapes.DateField()
    state = shapes.ChoiceField(choices=STATES)
    reading_id = shapes.UuidField(allow_null=True)
    version = shapes.IntegerField()
    created_at = shapes.AwareDateTimeField()


class VisitInput(shapes.InputShape):
    """A new wish; an origin asks only once, however often it is sent."""

    point_id = shapes.UuidField()
    due_on = shapes.DateField()
    reason = shapes.ChoiceField(choices=REASONS, default=VisitReason.REQUESTED.value)
    origin = shapes.TextField(max_length=120, required=False)
    note = shapes.TextField(max_length=300, required=False, allow_blank=True)


class VisitChange(shapes.InputShape):
    """What may change while the visit is wanted."""

    due_on = shapes.DateField()
    note = shapes.TextField(max_length=300, allow_blank=True)


class VisitFilters(filtering.StrictFilterSet):
    """Filters of visit requests."""

    site_id = filtering.UuidFilter()
    point_id = filtering.UuidFilter()
    area_id = filtering.UuidFilter(field_name="point__asset__area_id")
    state = filtering.ChoicesFilter(choices=STATES)
    reason = filtering.ChoicesFilter(choices=REASONS)
    due_before = filtering.DateFilter(field_name="due_on", lookup_expr="lt")


class VisitRequests(CreateDoor, ListDoor):
    """Visit requests, the most pressing first."""

    noun, room = "visit_request", "routes"
    needs = {"GET": Right.VIEW, "POST": Right.PLAN}
    shape, input_shape, filterset_class = VisitShape, VisitInput, VisitFilters
    orderings = {"due_on": ("due_on",), "-created_at": ("-created_at",)}
    references = {"point_id": Reference(plant.points)}

    def rows(self) -> QuerySet[Any]:
        """Return all visit requests."""
        return queries.visit_requests()

    def act(self, data: dict[str, Any]) -> Any:
        """Ask for the visit."""
        data.setdefault("origin", f"request:{uuid7()}")
        return actions.request_visit(actor=self.actor, at=self.at, site_id=self.site, **data)


class VisitRequest(ChangeDoor):
    """One visit request."""

    noun, room = "visit_request", "routes"
    needs = {"GET": Right.VIEW, "PATCH": Right.PLAN}
    shape, input_shape = VisitShape, VisitChange

    def rows(self) -> QuerySet[Any]:
        """Return all visit requests."""
        return queries.visit_requests()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Move the visit to another day."""
        return actions.change_visit(
            actor=self.actor, at=self.at, visit_id=obj.pk, version=self.version, **data
        )


class VisitDropInput(shapes.InputShape):
    """Why nobody needs to go."""

    reason = shapes.TextField(max_length=500)


class VisitRequestDrop(ActDoor):
    """Say that a visit is no longer wanted."""

    operation, room = "visit_request_drop", "routes"
    needs = {"POST": Right.PLAN}
    shape, input_shape = VisitShape, VisitDropInput

    def rows(self) -> QuerySet[Any]:
        """Return all visit requests."""
        return queries.visit_requests()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Drop it."""
        return actions.drop_visit(actor=self.actor, at=self.at, visit_id=obj.pk, version=self.version, **data)
