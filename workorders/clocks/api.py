"""Doors of the clocks room."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.plant.access import POLICY
from findings.plant.rules import Role
from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, ListDoor
from workorders.clocks import actions, queries

_ROLES = [(role.value, role.value) for role in Role]


class EscalationShape(shapes.Shape):
    """Who was told that a finding is ageing, and who took it."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    finding_id = shapes.UuidField()
    finding_number = shapes.IntegerField(source="finding.number")
    asset_id = shapes.UuidField(source="finding.asset_id")
    asset_code = shapes.TextField(source="finding.asset.code")
    is_safety = shapes.BooleanField(source="finding.is_safety")
    episode = shapes.IntegerField()
    step = shapes.IntegerField()
    to_role = shapes.ChoiceField(choices=_ROLES)
    reason = shapes.TextField()
    at = shapes.AwareDateTimeField()
    taken_by_id = shapes.UuidField(source="taken_by.public_id", allow_null=True)
    taken_at = shapes.AwareDateTimeField(allow_null=True)


class EscalationFilters(filtering.StrictFilterSet):
    """Narrow the list of escalations."""

    site_id = filtering.UuidFilter()
    finding_id = filtering.UuidFilter()
    to_role = filtering.ChoicesFilter(choices=_ROLES)
    taken = filtering.BooleanFilter(field_name="taken_at", lookup_expr="isnull", exclude=True)


class Escalations(ListDoor):
    """What is ageing."""

    noun, room = "escalation", "clocks"
    needs = {"GET": "view"}
    shape, filterset_class = EscalationShape, EscalationFilters
    orderings = {"-at": ("-at", "-id"), "at": ("at",)}

    def rows(self) -> QuerySet[Any]:
        """Return all escalations."""
        return queries.escalations()


class EscalationTake(ActDoor):
    """See to what is ageing."""

    operation, room = "escalation_take", "clocks"
    needs = {"POST": "view"}
    shape = EscalationShape
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all escalations."""
        return queries.escalations()

    def act(self, obj: Any, _: dict[str, Any]) -> Any:
        """Take it."""
        rights = POLICY.rights(self.actor, obj.site_id)
        return actions.take_escalation(actor=self.actor, at=self.at, escalation_id=obj.pk, rights=rights)
