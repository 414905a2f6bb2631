"""Doors of measuring points."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.kinds.base import Medium
from findings.plant import actions, queries
from findings.plant.rules import Method, Right
from plantcare.api import filtering, shapes
from plantcare.api.references import Reference
from plantcare.api.views import ChangeDoor, CreateDoor, ListDoor

METHODS = [(m.value, m.value) for m in Method]
MEDIA = [(m.value, m.value) for m in Medium]


class PointShape(shapes.Shape):
    """A measuring point."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    asset_id = shapes.UuidField()
    asset_code = shapes.TextField(source="asset.code")
    code = shapes.TextField()
    name = shapes.TextField()
    method = shapes.ChoiceField(choices=METHODS)
    medium = shapes.ChoiceField(choices=MEDIA, allow_blank=True)
    retired_at = shapes.AwareDateTimeField(allow_null=True)
    version = shapes.IntegerField()
    created_at = shapes.AwareDateTimeField()


class PointInput(shapes.InputShape):
    """A new measuring point."""

    asset_id = shapes.UuidField()
    code = shapes.TextField(max_length=64)
    name = shapes.TextField(max_length=200, required=False, allow_blank=True)
    method = shapes.ChoiceField(choices=METHODS, required=False)
    medium = shapes.ChoiceField(choices=MEDIA, required=False, allow_blank=True)


class PointChange(shapes.InputShape):
    """What may change about a measuring point."""

    code = shapes.TextField(max_length=64)
    name = shapes.TextField(max_length=200, allow_blank=True)
    method = shapes.ChoiceField(choices=METHODS)
    medium = shapes.ChoiceField(choices=MEDIA, allow_blank=True)
    retired = shapes.BooleanField()


class PointFilters(filtering.StrictFilterSet):
    """Filters of measuring points."""

    site_id = filtering.UuidFilter()
    area_id = filtering.UuidFilter(field_name="asset__area_id")
    asset_id = filtering.UuidFilter()
    method = filtering.ChoicesFilter(choices=METHODS)
    medium = filtering.ChoicesFilter(choices=MEDIA)
    in_use = filtering.BooleanFilter(field_name="retired_at", lookup_expr="isnull")
    code = filtering.CodeFilter()
    q = filtering.TextFilter(fields=["code", "name"])


class MeasuringPoints(CreateDoor, ListDoor):
    """Measuring points."""

    noun, room = "measuring_point", "plant"
    needs = {"GET": Right.VIEW, "POST": Right.REGISTER}
    shape, input_shape, filterset_class = PointShape, PointInput, PointFilters
    orderings = {"code": ("code",), "-created_at": ("-created_at",)}
    references = {"asset_id": Reference(queries.assets)}

    def rows(self) -> QuerySet[Any]:
        """Return all measuring points."""
        return queries.points()

    def act(self, data: dict[str, Any]) -> Any:
        """Make a measuring point."""
        return actions.add_point(actor=self.actor, at=self.at, site_id=self.site, **data)


class MeasuringPoint(ChangeDoor):
    """One measuring point."""

    noun, room = "measuring_point", "plant"
    needs = {"GET": Right.VIEW, "PATCH": Right.REGISTER}
    shape, input_shape = PointShape, PointChange

    def rows(self) -> QuerySet[Any]:
        """Return all measuring points."""
        return queries.points()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Change or retire the point."""
        return actions.change_point(
            actor=self.actor, at=self.at, point_id=obj.pk, version=self.version, **data
        )
