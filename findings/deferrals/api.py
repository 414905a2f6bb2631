"""Doors of the deferrals room."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from findings.deferrals import actions, queries
from findings.deferrals.rules import DeferralReason, DeferralState, state_at
from findings.register import queries as register
from plantcare.api import filtering, shapes
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, ListDoor

_REASONS = [(reason.value, reason.value) for reason in DeferralReason]


class StateField(shapes.ChoiceField):
    """Where a deferral stands at the moment of the request."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("choices", [(state.value, state.value) for state in DeferralState])
        super().__init__(source="*", **kwargs)

    def to_representation(self, value: Any) -> str:
        """Return the state."""
        at: datetime = self.context["view"].at
        return state_at(
            at,
            until_at=value.until_at,
            approved_at=value.approved_at,
            refused_at=value.refused_at,
            ended_at=value.ended_at,
        ).value


class DeferralShape(shapes.Shape):
    """A wish to let a finding wait, and what became of it."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    finding_id = shapes.UuidField()
    state = StateField()
    is_safety = shapes.BooleanField()
    reason = shapes.TextField()
    text = shapes.TextField()
    interim_measures = shapes.TextField()
    until_at = shapes.AwareDateTimeField()
    requested_by = shapes.TextField()
    requested_at = shapes.AwareDateTimeField()
    approved_by = shapes.TextField(allow_null=True)
    approved_at = shapes.AwareDateTimeField(allow_null=True)
    refused_at = shapes.AwareDateTimeField(allow_null=True)
    ended_at = shapes.AwareDateTimeField(allow_null=True)
    version = shapes.IntegerField()


class DeferralInput(shapes.InputShape):
    """A request; a safety finding's says what keeps people safe meanwhile."""

    finding_id = shapes.UuidField()
    reason = shapes.ChoiceField(choices=_REASONS)
    text = shapes.TextField(max_length=2000)
    until_at = shapes.AwareDateTimeField()
    interim_measures = shapes.TextField(required=False, allow_blank=True, max_length=2000)


class DecisionInput(shapes.InputShape):
    """Words with a decision."""

    text = shapes.TextField(required=False, allow_blank=True, max_length=2000)


class ApprovalInput(shapes.InputShape):
    """An approval says nothing more."""


class DeferralFilters(filtering.StrictFilterSet):
    """Narrow the list of deferrals."""

    site_id = filtering.UuidFilter()
    finding_id = filtering.UuidFilter()
    reason = filtering.ChoicesFilter(choices=_REASONS)
    is_safety = filtering.BooleanFilter()
    until_before = filtering.AwareDateTimeFilter(field_name="until_at", lookup_expr="lt")


class Deferrals(CreateDoor, ListDoor):
    """Deferrals: list, and ask for one."""

    noun, room = "deferral", "deferrals"
    needs = {"GET": "view", "POST": "defer"}
    shape, input_shape, filterset_class = DeferralShape, DeferralInput, DeferralFilters
    orderings = {"-requested_at": ("-requested_at",), "until_at": ("until_at",)}
    references = {"finding_id": Reference(register.findings)}

    def rows(self) -> QuerySet[Any]:
        """Return all deferrals."""
        return queries.deferrals()

    def act(self, data: dict[str, Any]) -> Any:
        """Ask for one."""
        return actions.request_deferral(actor=self.actor, at=self.at, **data)


class Deferral(DetailDoor):
    """One deferral."""

    noun, room = "deferral", "deferrals"
    needs = {"GET": "view"}
    shape = DeferralShape
    conditional = False

    def rows(self) -> QuerySet[Any]:
        """Return all deferrals."""
        return queries.deferrals()


class DeferralApproval(ActDoor):
    """Grant a deferral; a safety finding's by another person than who asked, at a log-in."""

    operation, room = "deferral_approve", "deferrals"
    needs = {"POST": "approve_deferral"}
    shape, input_shape = DeferralShape, ApprovalInput
    if_match = "required"

    def rows(self) -> QuerySet[Any]:
        """Return all deferrals."""
        return queries.deferrals()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:  # noqa: ARG002 - it has no members
        """Grant it."""
        return actions.approve(actor=self.actor, at=self.at, deferral_id=obj.pk, version=self.version)


class DeferralRefusal(ActDoor):
    """Refuse a deferral."""

    operation, room = "deferral_refuse", "deferrals"
    needs = {"POST": "approve_deferral"}
    shape, input_shape = DeferralShape, DecisionInput
    if_match = "required"

    def rows(self) -> QuerySet[Any]:
        """Return all deferrals."""
        return queries.deferrals()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Refuse it."""
        return actions.refuse(actor=self.actor, at=self.at, deferral_id=obj.pk, version=self.version, **data)


class DeferralEnd(ActDoor):
    """End a deferral before its term."""

    operation, room = "deferral_end", "deferrals"
    needs = {"POST": "approve_deferral"}
    shape, input_shape = DeferralShape, DecisionInput
    if_match = "required"

    def rows(self) -> QuerySet[Any]:
        """Return all deferrals."""
        return queries.deferrals()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """End it."""
        return actions.end(actor=self.actor, at=self.at, deferral_id=obj.pk, version=self.version, **data)
