"""Doors of the machines that feed a supply system."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.plant import queries as plant
from findings.plant.rules import Right
from findings.supply import actions, queries
from findings.supply.rules import ControlType
from plantcare.api import filtering, shapes
from plantcare.api.references import Reference
from plantcare.api.views import ChangeDoor, CreateDoor, ListDoor

CONTROLS = [(c.value, c.value) for c in ControlType]


class PointsField(shapes.ListField):
    """Measured points of part load, [capacity share, power share] each, rising to [1, 1]; or none."""

    child = shapes.ListField(child=shapes.FloatField(min_value=0, max_value=1), min_length=2, max_length=2)

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=20, **kwargs)


class CompressorShape(shapes.Shape):
    """A machine that feeds a supply system."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    system_id = shapes.UuidField()
    asset_id = shapes.UuidField(allow_null=True)
    code = shapes.TextField()
    control = shapes.ChoiceField(choices=CONTROLS)
    rated_flow_m3_per_s = shapes.FloatField(help_text="Inlet air at the site's atmosphere.")
    rated_power_w = shapes.FloatField()
    unloaded_share = shapes.FloatField(
        allow_null=True, help_text="Power without delivery over power at full load."
    )
    least_share = shapes.FloatField(allow_null=True, help_text="Least delivery over the capacity.")
    load_order = shapes.IntegerField(
        allow_null=True, help_text="Place in the cascade: 1 is loaded first and unloaded last."
    )
    part_load_points = PointsField()
    commissioned_on = shapes.DateField(allow_null=True)
    retired_on = shapes.DateField(allow_null=True)
    version = shapes.IntegerField()
    created_at = shapes.AwareDateTimeField()


class PartLoadInput(shapes.InputShape):
    """How a machine follows demand; what isn't known stays away."""

    unloaded_share = shapes.FloatField(min_value=0, max_value=1, required=False, allow_null=True)
    least_share = shapes.FloatField(min_value=0, max_value=1, required=False, allow_null=True)
    load_order = shapes.IntegerField(min_value=1, max_value=100, required=False, allow_null=True)
    part_load_points = PointsField(required=False)


class CompressorInput(PartLoadInput):
    """A new compressor."""

    system_id = shapes.UuidField()
    asset_id = shapes.UuidField(required=False, allow_null=True)
    code = shapes.TextField(max_length=32)
    control = shapes.ChoiceField(choices=CONTROLS)
    rated_flow_m3_per_s = shapes.FloatField()
    rated_power_w = shapes.FloatField()
    commissioned_on = shapes.DateField(required=False, allow_null=True)


class CompressorChange(PartLoadInput):
    """What may change about a compressor."""

    asset_id = shapes.UuidField(allow_null=True)
    code = shapes.TextField(max_length=32)
    control = shapes.ChoiceField(choices=CONTROLS)
    rated_flow_m3_per_s = shapes.FloatField()
    rated_power_w = shapes.FloatField()
    commissioned_on = shapes.DateField(allow_null=True)
    retired_on = shapes.DateField(allow_null=True)


class CompressorFilters(filtering.StrictFilterSet):
    """Filters of compressors."""

    site_id = filtering.UuidFilter()
    system_id = filtering.UuidFilter()
    in_use = filtering.BooleanFilter(field_name="retired_on", lookup_expr="isnull")
    code = filtering.CodeFilter()


class Compressors(CreateDoor, ListDoor):
    """Compressors."""

    noun, room = "compressor", "supply"
    needs = {"GET": Right.VIEW, "POST": Right.REGISTER}
    shape, input_shape, filterset_class = CompressorShape, CompressorInput, CompressorFilters
    orderings = {"code": ("code",)}
    references = {"system_id": Reference(queries.systems), "asset_id": Reference(plant.assets)}

    def rows(self) -> QuerySet[Any]:
        """Return all compressors."""
        return queries.compressors()

    def act(self, data: dict[str, Any]) -> Any:
        """Make a compressor."""
        return actions.add_compressor(actor=self.actor, at=self.at, site_id=self.site, **data)


class Compressor(ChangeDoor):
    """One compressor."""

    noun, room = "compressor", "supply"
    needs = {"GET": Right.VIEW, "PATCH": Right.REGISTER}
    shape, input_shape = CompressorShape, CompressorChange
    references = {"asset_id": Reference(plant.assets)}

    def rows(self) -> QuerySet[Any]:
        """Return all compressors."""
        return queries.compressors()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Change or retire the compressor."""
        return actions.change_compressor(
            actor=self.actor, at=self.at, compressor_id=obj.pk, version=self.version, **data
        )
