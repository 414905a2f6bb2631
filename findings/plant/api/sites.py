"""Doors of sites and areas."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.plant import actions, queries
from findings.plant.rules import Right
from plantcare.api import filtering, shapes
from plantcare.api.problems import Forbidden
from plantcare.api.views import SIGNED_IN, ChangeDoor, CreateDoor, ListDoor

UNIT_SYSTEMS = ("metric", "us")


class SiteShape(shapes.Shape):
    """A site."""

    id = shapes.UuidField()
    code = shapes.TextField()
    name = shapes.TextField()
    time_zone = shapes.TextField(help_text="Zone of the tz database; it rules the site's days and months.")
    currency = shapes.CurrencyField()
    unit_system = shapes.ChoiceField(choices=UNIT_SYSTEMS)
    atmosphere_pa = shapes.FloatField(help_text="Absolute pressure of the air; gauge pressures start here.")
    version = shapes.IntegerField()
    created_at = shapes.AwareDateTimeField()


class SiteChange(shapes.InputShape):
    """What may change about a site."""

    name = shapes.TextField(max_length=200)
    time_zone = shapes.TextField(max_length=64)
    unit_system = shapes.ChoiceField(choices=UNIT_SYSTEMS, required=False)
    atmosphere_pa = shapes.FloatField(min_value=50_000, max_value=110_000, required=False)


class SiteInput(SiteChange):
    """A new site."""

    code = shapes.TextField(max_length=16)
    currency = shapes.CurrencyField()
    manager_username = shapes.TextField(
        max_length=150, required=False, help_text="The first manager; whoever makes the site, if not named."
    )


class SiteFilters(filtering.StrictFilterSet):
    """Filters of sites."""

    code = filtering.CodeFilter()
    q = filtering.TextFilter(fields=["code", "name"])


class SuperuserNeeded(Forbidden):
    """No site could grant the right to make sites."""

    code = "superuser_needed"
    title = "Only a superuser, at a log-in, makes sites."


class Sites(CreateDoor, ListDoor):
    """The caller's sites."""

    noun, room = "site", "plant"
    needs = {"GET": Right.VIEW, "POST": SIGNED_IN}
    site_field = "id"
    shape, input_shape, filterset_class = SiteShape, SiteInput, SiteFilters
    orderings = {"code": ("code",), "name": ("name",)}

    def rows(self) -> QuerySet[Any]:
        """Return all sites."""
        return queries.sites()

    def act(self, data: dict[str, Any]) -> Any:
        """Make a site."""
        if not self.actor.is_superuser or self.actor.key_id is not None:
            raise SuperuserNeeded
        manager = data.pop("manager_username", "")
        manager_id = actions.person_named(manager, "/manager_username") if manager else None
        return actions.add_site(actor=self.actor, at=self.at, manager_user_id=manager_id, **data)


class Site(ChangeDoor):
    """One site."""

    noun, room = "site", "plant"
    needs = {"GET": Right.VIEW, "PATCH": Right.MEMBERS}
    site_field = "id"
    shape, input_shape = SiteShape, SiteChange

    def rows(self) -> QuerySet[Any]:
        """Return all sites."""
        return queries.sites()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Change the site."""
        return actions.change_site(actor=self.actor, at=self.at, site_id=obj.pk, version=self.version, **data)


class AreaShape(shapes.Shape):
    """An area."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    code = shapes.TextField()
    name = shapes.TextField()
    version = shapes.IntegerField()
    created_at = shapes.AwareDateTimeField()


class AreaChange(shapes.InputShape):
    """What may change about an area."""

    code = shapes.TextField(max_length=32)
    name = shapes.TextField(max_length=200)


class AreaInput(AreaChange):
    """A new area."""

    site_id = shapes.UuidField()


class AreaFilters(filtering.StrictFilterSet):
    """Filters of areas."""

    site_id = filtering.UuidFilter()
    code = filtering.CodeFilter()
    q = filtering.TextFilter(fields=["code", "name"])


class Areas(CreateDoor, ListDoor):
    """Areas."""

    noun, room = "area", "plant"
    needs = {"GET": Right.VIEW, "POST": Right.REGISTER}
    shape, input_shape, filterset_class = AreaShape, AreaInput, AreaFilters
    orderings = {"code": ("code",), "name": ("name",)}

    def rows(self) -> QuerySet[Any]:
        """Return all areas."""
        return queries.areas()

    def act(self, data: dict[str, Any]) -> Any:
        """Make an area."""
        return actions.add_area(actor=self.actor, at=self.at, **data)


class Area(ChangeDoor):
    """One area."""

    noun, room = "area", "plant"
    needs = {"GET": Right.VIEW, "PATCH": Right.REGISTER}
    shape, input_shape = AreaShape, AreaChange

    def rows(self) -> QuerySet[Any]:
        """Return all areas."""
        return queries.areas()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Change the area."""
        return actions.change_area(actor=self.actor, at=self.at, area_id=obj.pk, version=self.version, **data)
