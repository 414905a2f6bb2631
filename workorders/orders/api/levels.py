"""Doors of the times that a site promises."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.plant.access import POLICY
from plantcare.api import filtering, shapes
from plantcare.api.views import ChangeDoor, ListDoor
from workorders.orders import actions, queries
from workorders.orders.api.shapes import choices
from workorders.orders.rules import PriorityClass


class ServiceLevelShape(shapes.Shape):
    """How long each step may take for a priority at a site."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    priority = shapes.ChoiceField(choices=choices(PriorityClass))
    respond_hours = shapes.DecimalString(max_digits=8, decimal_places=2)
    repair_hours = shapes.DecimalString(max_digits=8, decimal_places=2, allow_null=True)
    repair_days = shapes.IntegerField(allow_null=True)
    verify_days = shapes.IntegerField()
    source = shapes.TextField()  # type: ignore[assignment]
    version = shapes.IntegerField()


class ServiceLevelChange(shapes.InputShape):
    """The times of a class, and where they come from."""

    respond_hours = shapes.DecimalString(max_digits=8, decimal_places=2, min_value=0, max_value=87_600)
    repair_hours = shapes.DecimalString(
        max_digits=8, decimal_places=2, min_value=0, max_value=87_600, allow_null=True
    )
    repair_days = shapes.IntegerField(min_value=0, max_value=3_650, allow_null=True)
    verify_days = shapes.IntegerField(min_value=0, max_value=3_650)
    source = shapes.TextField(max_length=300)  # type: ignore[assignment]


class ServiceLevelFilters(filtering.StrictFilterSet):
    """Narrow the list of service levels."""

    site_id = filtering.UuidFilter()
    priority = filtering.ChoicesFilter(choices=choices(PriorityClass))


class ServiceLevels(ListDoor):
    """The times promised at each site."""

    noun, room = "service_level", "orders"
    needs = {"GET": "view"}
    shape, filterset_class = ServiceLevelShape, ServiceLevelFilters
    orderings = {"priority": ("priority",)}

    def rows(self) -> QuerySet[Any]:
        """Return all levels; a site's first look writes the defaults down."""
        actions.seed_levels(site_ids=POLICY.sites(self.actor, self.right), at=self.at)
        return queries.service_levels()


class ServiceLevel(ChangeDoor):
    """The times promised for one class at one site."""

    noun, room = "service_level", "orders"
    needs = {"GET": "view", "PATCH": "plan"}
    shape, input_shape = ServiceLevelShape, ServiceLevelChange

    def rows(self) -> QuerySet[Any]:
        """Return all levels."""
        return queries.service_levels()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Promise other times from now on."""
        return actions.change_level(
            actor=self.actor, at=self.at, level_id=obj.pk, version=self.version, **data
        )
