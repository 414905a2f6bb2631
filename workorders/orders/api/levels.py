"""Doors of the times that a site promises."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.kinds.base import Kind
from findings.plant.access import POLICY
from plantcare.api import filtering, shapes
from plantcare.api.views import ChangeDoor, CreateDoor, ListDoor
from workorders.orders import actions, queries
from workorders.orders.api.shapes import choices
from workorders.orders.rules import PriorityClass


def _hours(**more: Any) -> shapes.DecimalString:
    """Return a field of hours up to ten years; null where the time is given in another way."""
    return shapes.DecimalString(
        max_digits=8, decimal_places=2, min_value=0, max_value=87_600, allow_null=True, **more
    )


def _days(**more: Any) -> shapes.IntegerField:
    """Return a field of days up to ten years; null where the time is given in another way."""
    return shapes.IntegerField(min_value=0, max_value=3_650, allow_null=True, **more)


class ServiceLevelShape(shapes.Shape):
    """How long each step may take for a priority at a site; a row that names a kind goes before the other.

    Each time is given in one way: hours elapse day and night, working hours pass while the site works, days
    end at the same time of day.
    """

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    priority = shapes.ChoiceField(choices=choices(PriorityClass))
    kind = shapes.TextField(help_text="Empty: of every kind that has no row of its own.")
    respond_hours = shapes.DecimalString(max_digits=8, decimal_places=2, allow_null=True)
    respond_working_hours = shapes.DecimalString(max_digits=8, decimal_places=2, allow_null=True)
    respond_days = shapes.IntegerField(allow_null=True)
    repair_hours = shapes.DecimalString(max_digits=8, decimal_places=2, allow_null=True)
    repair_working_hours = shapes.DecimalString(max_digits=8, decimal_places=2, allow_null=True)
    repair_days = shapes.IntegerField(allow_null=True)
    verify_hours = shapes.DecimalString(max_digits=8, decimal_places=2, allow_null=True)
    verify_working_hours = shapes.DecimalString(max_digits=8, decimal_places=2, allow_null=True)
    verify_days = shapes.IntegerField(allow_null=True)
    source = shapes.TextField()  # type: ignore[assignment]
    version = shapes.IntegerField()


class ServiceLevelChange(shapes.InputShape):
    """The times of a class, and where they come from; one way of giving a time empties the other two."""

    respond_hours = _hours()
    respond_working_hours = _hours()
    respond_days = _days()
    repair_hours = _hours()
    repair_working_hours = _hours()
    repair_days = _days()
    verify_hours = _hours()
    verify_working_hours = _hours()
    verify_days = _days()
    source = shapes.TextField(max_length=300)  # type: ignore[assignment]


class ServiceLevelInput(shapes.InputShape):
    """The times of a class for one kind of finding: each clock in exactly one way."""

    site_id = shapes.UuidField()
    priority = shapes.ChoiceField(choices=choices(PriorityClass))
    kind = shapes.ChoiceField(choices=choices(Kind))
    respond_hours = _hours(required=False)
    respond_working_hours = _hours(required=False)
    respond_days = _days(required=False)
    repair_hours = _hours(required=False)
    repair_working_hours = _hours(required=False)
    repair_days = _days(required=False)
    verify_hours = _hours(required=False)
    verify_working_hours = _hours(required=False)
    verify_days = _days(required=False)
    source = shapes.TextField(max_length=300)  # type: ignore[assignment]


class ServiceLevelFilters(filtering.StrictFilterSet):
    """Narrow the list of service levels."""

    site_id = filtering.UuidFilter()
    priority = filtering.ChoicesFilter(choices=choices(PriorityClass))
    kind = filtering.ChoicesFilter(choices=choices(Kind))


class ServiceLevels(CreateDoor, ListDoor):
    """The times promised at each site."""

    noun, room = "service_level", "orders"
    needs = {"GET": "view", "POST": "plan"}
    shape, input_shape, filterset_class = ServiceLevelShape, ServiceLevelInput, ServiceLevelFilters
    orderings = {"priority": ("priority", "kind")}

    def rows(self) -> QuerySet[Any]:
        """Return all levels; a site's first look writes the defaults down."""
        actions.seed_levels(site_ids=POLICY.sites(self.actor, self.right), at=self.at)
        return queries.service_levels()

    def act(self, data: dict[str, Any]) -> Any:
        """Promise other times for one kind."""
        priority, kind = PriorityClass(data.pop("priority")), Kind(data.pop("kind"))
        return actions.add_level(actor=self.actor, at=self.at, priority=priority, kind=kind, **data)


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
