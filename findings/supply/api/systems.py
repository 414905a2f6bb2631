"""Doors of supply systems and connections."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.kinds.base import Medium
from findings.plant import queries as plant
from findings.plant.rules import Right
from findings.supply import actions, queries
from plantcare.api import filtering, shapes
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor, ChangeDoor, CreateDoor, DetailDoor, ListDoor

MEDIA = [(m.value, m.value) for m in Medium]


class SystemShape(shapes.Shape):
    """A network of one medium at one header pressure."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    code = shapes.TextField()
    name = shapes.TextField()
    medium = shapes.ChoiceField(choices=MEDIA)
    gas_name = shapes.TextField()
    pressure_gauge_pa = shapes.FloatField(help_text="Against the site's atmosphere; negative for vacuum.")
    temperature_k = shapes.FloatField()
    storage_m3 = shapes.FloatField(allow_null=True, help_text="Receivers and pipes together.")
    version = shapes.IntegerField()
    created_at = shapes.AwareDateTimeField()


class SystemChange(shapes.InputShape):
    """What may change about a supply system."""

    code = shapes.TextField(max_length=32)
    name = shapes.TextField(max_length=200)
    pressure_gauge_pa = shapes.FloatField()
    temperature_k = shapes.FloatField(required=False)
    storage_m3 = shapes.FloatField(required=False, allow_null=True, help_text="Receivers and pipes together.")


class SystemInput(SystemChange):
    """A new supply system."""

    site_id = shapes.UuidField()
    medium = shapes.ChoiceField(choices=MEDIA)
    gas_name = shapes.TextField(max_length=64, required=False, allow_blank=True)


class SystemFilters(filtering.StrictFilterSet):
    """Filters of supply systems."""

    site_id = filtering.UuidFilter()
    medium = filtering.ChoicesFilter(choices=MEDIA)
    code = filtering.CodeFilter()
    q = filtering.TextFilter(fields=["code", "name"])


class SupplySystems(CreateDoor, ListDoor):
    """Supply systems."""

    noun, room = "supply_system", "supply"
    needs = {"GET": Right.VIEW, "POST": Right.REGISTER}
    shape, input_shape, filterset_class = SystemShape, SystemInput, SystemFilters
    orderings = {"code": ("code",), "name": ("name",)}

    def rows(self) -> QuerySet[Any]:
        """Return all supply systems."""
        return queries.systems()

    def act(self, data: dict[str, Any]) -> Any:
        """Make a supply system."""
        return actions.add_system(actor=self.actor, at=self.at, **data)


class SupplySystem(ChangeDoor):
    """One supply system."""

    noun, room = "supply_system", "supply"
    needs = {"GET": Right.VIEW, "PATCH": Right.REGISTER}
    shape, input_shape = SystemShape, SystemChange

    def rows(self) -> QuerySet[Any]:
        """Return all supply systems."""
        return queries.systems()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Change the system."""
        return actions.change_system(
            actor=self.actor, at=self.at, system_id=obj.pk, version=self.version, **data
        )


class ConnectionShape(shapes.Shape):
    """Which supply system feeds which asset and the parts below it."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    asset_id = shapes.UuidField()
    asset_code = shapes.TextField(source="asset.code")
    system_id = shapes.UuidField()
    system_code = shapes.TextField(source="system.code")
    medium = shapes.ChoiceField(choices=MEDIA, source="system.medium")
    created_at = shapes.AwareDateTimeField()


class ConnectionInput(shapes.InputShape):
    """A new connection."""

    asset_id = shapes.UuidField()
    system_id = shapes.UuidField()


class ConnectionFilters(filtering.StrictFilterSet):
    """Filters of connections."""

    site_id = filtering.UuidFilter()
    asset_id = filtering.UuidFilter()
    system_id = filtering.UuidFilter()


class Connections(CreateDoor, ListDoor):
    """Connections."""

    noun, room = "connection", "supply"
    needs = {"GET": Right.VIEW, "POST": Right.REGISTER}
    shape, input_shape, filterset_class = ConnectionShape, ConnectionInput, ConnectionFilters
    references = {"asset_id": Reference(plant.assets), "system_id": Reference(queries.systems)}

    def rows(self) -> QuerySet[Any]:
        """Return all connections."""
        return queries.connections()

    def act(self, data: dict[str, Any]) -> Any:
        """Feed the asset."""
        return actions.connect(actor=self.actor, at=self.at, site_id=self.site, **data)


class Connection(DetailDoor):
    """One connection."""

    noun, room = "connection", "supply"
    needs = {"GET": Right.VIEW}
    shape = ConnectionShape

    def rows(self) -> QuerySet[Any]:
        """Return all connections."""
        return queries.connections()


class ConnectionEndInput(shapes.InputShape):
    """Why, if there is something to say."""

    reason = shapes.TextField(max_length=500, required=False, allow_blank=True)


class ConnectionEnd(ActDoor):
    """Take a connection away; the logbook keeps that it was."""

    operation, room = "connection_end", "supply"
    needs = {"POST": Right.REGISTER}
    shape, input_shape = ConnectionShape, ConnectionEndInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all connections."""
        return queries.connections()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Take it away."""
        return actions.disconnect(actor=self.actor, at=self.at, connection_id=obj.pk, **data)
