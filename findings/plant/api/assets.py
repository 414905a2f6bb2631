"""Doors of assets."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from findings.plant import actions, queries
from findings.plant.rules import Criticality, Right, minutes_per_week, read_windows
from plantcare.api import filtering, shapes
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor, ChangeDoor, CreateDoor, ListDoor

CRITICALITIES = [(c.value, c.value) for c in Criticality]


class RunningWindowShape(shapes.Shape):
    """Hours of the week in which an asset runs, by the site's clocks."""

    days = shapes.ListField(child=shapes.IntegerField(), help_text="0 is Monday.")
    start = shapes.TextField()
    end = shapes.TextField()
    ends_next_day = serializers.SerializerMethodField()

    def get_ends_next_day(self, row: dict[str, Any]) -> bool:
        """Say that a window crosses midnight."""
        return read_windows([row])[0].ends_next_day


class RunningWindowInput(shapes.InputShape):
    """Hours of the week; one that ends at or before its start ends on the day after."""

    days = shapes.ListField(
        child=shapes.IntegerField(min_value=0, max_value=6),
        min_length=1,
        max_length=7,
        help_text="0 is Monday.",
    )
    start = shapes.TextField(max_length=5, help_text="22:00")
    end = shapes.TextField(max_length=5, help_text="06:00; 24:00 ends a day.")


class AssetShape(shapes.Shape):
    """An asset."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    area_id = shapes.UuidField()
    parent_id = shapes.UuidField(allow_null=True)
    code = shapes.TextField()
    name = shapes.TextField()
    asset_class = shapes.TextField()
    criticality = shapes.ChoiceField(choices=CRITICALITIES)
    running_windows = RunningWindowShape(many=True)
    runs_minutes_per_week = serializers.SerializerMethodField()
    access_restrictions = shapes.ListField(child=shapes.TextField())
    in_service = serializers.SerializerMethodField()
    decommissioned_at = shapes.AwareDateTimeField(allow_null=True)
    decommissioned_reason = shapes.TextField()
    version = shapes.IntegerField()
    created_at = shapes.AwareDateTimeField()

    def get_in_service(self, asset: Any) -> bool:
        """Tell whether the asset is in service."""
        return asset.decommissioned_at is None

    def get_runs_minutes_per_week(self, asset: Any) -> int:
        """Return the minutes of a week that the windows cover; all of them without windows."""
        return minutes_per_week(read_windows(asset.running_windows))


class AssetChange(shapes.InputShape):
    """What may change about an asset."""

    area_id = shapes.UuidField()
    parent_id = shapes.UuidField(required=False, allow_null=True)
    code = shapes.TextField(max_length=64)
    name = shapes.TextField(max_length=200)
    asset_class = shapes.TextField(max_length=64, required=False, allow_blank=True)
    criticality = shapes.ChoiceField(choices=CRITICALITIES, required=False)
    running_windows = RunningWindowInput(many=True, required=False)
    access_restrictions = shapes.ListField(
        child=shapes.TextField(max_length=200), required=False, max_length=20
    )


class AssetInput(AssetChange):
    """A new asset; its site is its area's."""


class AssetFilters(filtering.StrictFilterSet):
    """Filters of assets."""

    site_id = filtering.UuidFilter()
    area_id = filtering.UuidFilter()
    parent_id = filtering.UuidFilter()
    is_root = filtering.BooleanFilter(field_name="parent", lookup_expr="isnull")
    criticality = filtering.ChoicesFilter(choices=CRITICALITIES)
    in_service = filtering.BooleanFilter(field_name="decommissioned_at", lookup_expr="isnull")
    code = filtering.CodeFilter()
    q = filtering.TextFilter(fields=["code", "name", "asset_class"])


class Assets(CreateDoor, ListDoor):
    """Assets."""

    noun, room = "asset", "plant"
    needs = {"GET": Right.VIEW, "POST": Right.REGISTER}
    shape, input_shape, filterset_class = AssetShape, AssetInput, AssetFilters
    orderings = {"code": ("code",), "name": ("name",), "-created_at": ("-created_at",)}
    references = {"area_id": Reference(queries.areas), "parent_id": Reference(queries.assets)}

    def rows(self) -> QuerySet[Any]:
        """Return all assets."""
        return queries.assets()

    def act(self, data: dict[str, Any]) -> Any:
        """Make an asset."""
        return actions.add_asset(actor=self.actor, at=self.at, site_id=self.site, **data)


class Asset(ChangeDoor):
    """One asset."""

    noun, room = "asset", "plant"
    needs = {"GET": Right.VIEW, "PATCH": Right.REGISTER}
    shape, input_shape = AssetShape, AssetChange
    references = {"area_id": Reference(queries.areas), "parent_id": Reference(queries.assets)}

    def rows(self) -> QuerySet[Any]:
        """Return all assets."""
        return queries.assets()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Change or move the asset."""
        return actions.change_asset(
            actor=self.actor, at=self.at, asset_id=obj.pk, version=self.version, **data
        )


class AssetSubtree(ListDoor):
    """An asset and everything below it; each row names its parent."""

    operation, room = "asset_list_subtree", "plant"
    needs = {"GET": Right.VIEW}
    shape, filterset_class = AssetShape, AssetFilters
    orderings = {"code": ("code",), "name": ("name",)}

    def rows(self) -> QuerySet[Any]:
        """Return the asset and its parts."""
        return queries.subtree(self.one(queries.assets(), self.kwargs["id"]).pk)


class DecommissioningInput(shapes.InputShape):
    """Why, and since when."""

    reason = shapes.TextField(max_length=500)
    decommissioned_at = shapes.AwareDateTimeField(required=False, help_text="Now, if not given.")


class AssetDecommissioning(ActDoor):
    """Take an asset and everything below it out of service."""

    operation, room = "asset_decommission", "plant"
    needs = {"POST": Right.REGISTER}
    shape, input_shape = AssetShape, DecommissioningInput

    def rows(self) -> QuerySet[Any]:
        """Return all assets."""
        return queries.assets()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Take it out of service."""
        return actions.decommission_asset(
            actor=self.actor, at=self.at, asset_id=obj.pk, version=self.version, **data
        )


class RecommissioningInput(shapes.InputShape):
    """Why."""

    reason = shapes.TextField(max_length=500)


class AssetRecommissioning(ActDoor):
    """Put one asset back in service."""

    operation, room = "asset_recommission", "plant"
    needs = {"POST": Right.REGISTER}
    shape, input_shape = AssetShape, RecommissioningInput

    def rows(self) -> QuerySet[Any]:
        """Return all assets."""
        return queries.assets()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Put it back."""
        return actions.recommission_asset(
            actor=self.actor, at=self.at, asset_id=obj.pk, version=self.version, **data
        )
