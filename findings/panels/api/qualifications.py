"""Doors of who is a qualified electrical person."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.panels import actions, queries
from findings.panels.api.cautions import PanelVoidInput
from findings.plant import actions as plant
from findings.plant.rules import Right
from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, ListDoor


class QualificationShape(shapes.Shape):
    """That somebody is qualified for electrical work by the site's rules and local code, and until when."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    user_id = shapes.UuidField(source="user.public_id")
    username = shapes.TextField(source="user.username")
    name = shapes.TextField(source="user.get_full_name")
    ground = shapes.TextField(help_text="What the site rests it on: a certificate, a training, its date.")
    at = shapes.AwareDateTimeField()
    until_at = shapes.AwareDateTimeField()
    confirmed_by = shapes.TextField()
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class QualificationInput(shapes.InputShape):
    """Confirm it of somebody else, for three years at most."""

    site_id = shapes.UuidField()
    username = shapes.TextField(max_length=150)
    ground = shapes.TextField(max_length=300, help_text="Ten characters at least.")
    until_at = shapes.AwareDateTimeField()


class QualificationFilters(filtering.StrictFilterSet):
    """Narrow the qualifications."""

    site_id = filtering.UuidFilter()
    username = filtering.CodeFilter(field_name="user__username")
    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)
    until_after = filtering.AwareDateTimeFilter(field_name="until_at", lookup_expr="gt")


class Qualifications(CreateDoor, ListDoor):
    """Who is a qualified electrical person: list, and confirm somebody."""

    noun, room = "electrical_qualification", "panels"
    needs = {"GET": Right.VIEW, "POST": Right.MEMBERS}
    shape, input_shape, filterset_class = QualificationShape, QualificationInput, QualificationFilters
    orderings = {"-at": ("-at",), "until_at": ("until_at",)}
    detail_route = "electrical-qualification"

    def rows(self) -> QuerySet[Any]:
        """Return all qualifications."""
        return queries.qualifications()

    def act(self, data: dict[str, Any]) -> Any:
        """Confirm it."""
        user_id = plant.person_named(data.pop("username"))
        return actions.confirm_qualification(actor=self.actor, at=self.at, user_id=user_id, **data)


class Qualification(DetailDoor):
    """One qualification."""

    noun, room = "electrical_qualification", "panels"
    needs = {"GET": Right.VIEW}
    shape = QualificationShape

    def rows(self) -> QuerySet[Any]:
        """Return all qualifications."""
        return queries.qualifications()


class QualificationVoid(ActDoor):
    """End a qualification at once."""

    operation, room = "electrical_qualification_void", "panels"
    needs = {"POST": Right.MEMBERS}
    shape, input_shape = QualificationShape, PanelVoidInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all qualifications."""
        return queries.qualifications()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """End it."""
        return actions.void_qualification(actor=self.actor, at=self.at, qualification_id=obj.pk, **data)
