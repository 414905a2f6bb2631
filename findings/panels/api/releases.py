"""Doors of releases: whether an enclosure that a discharge keeps shut may be opened."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.panels import actions, queries
from findings.panels.api.cautions import PanelCautionsField, PanelVoidInput
from findings.panels.rules import ReleaseState, Technique
from findings.plant.rules import Right
from findings.register import queries as register
from plantcare.api import filtering, shapes
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, ListDoor

TECHNIQUES = [(word.value, word.value) for word in Technique]
STATES = [(word.value, word.value) for word in ReleaseState]


class ReleaseStateField(shapes.ChoiceField):
    """Where a release stands at the moment of the request."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("choices", STATES)
        kwargs.setdefault("help_text", "Any discharge judged after a release withdraws it.")
        super().__init__(source="*", **kwargs)

    def to_representation(self, value: Any) -> str:
        """Return the state."""
        return queries.release_state(value, self.context["view"].at).value


class OpeningReleaseShape(shapes.Shape):
    """That a qualified person lets an enclosure be opened, on what ground and conditions, until when."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    finding_id = shapes.UuidField()
    point_id = shapes.UuidField()
    condition_id = shapes.UuidField(allow_null=True, help_text="The judgement that stood at the time.")
    state = ReleaseStateField()
    technique = shapes.ChoiceField(choices=TECHNIQUES)
    found = shapes.TextField()
    conditions = shapes.TextField()
    by_id = shapes.UuidField(source="by.public_id")
    by_name = shapes.TextField(source="by.get_full_name")
    qualification_id = shapes.UuidField()
    at = shapes.AwareDateTimeField()
    until_at = shapes.AwareDateTimeField()
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()
    cautions = PanelCautionsField()


class OpeningReleaseInput(shapes.InputShape):
    """What a qualified person found by another technique, and on which conditions it may be opened."""

    finding_id = shapes.UuidField()
    technique = shapes.ChoiceField(choices=TECHNIQUES)
    found = shapes.TextField(max_length=2000, help_text="Ten characters at least.")
    conditions = shapes.TextField(max_length=2000, help_text="Ten characters at least.")
    until_at = shapes.AwareDateTimeField(help_text="31 days ahead at most.")


class OpeningReleaseFilters(filtering.StrictFilterSet):
    """Narrow the releases."""

    site_id = filtering.UuidFilter()
    finding_id = filtering.UuidFilter()
    point_id = filtering.UuidFilter()
    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)


class OpeningReleases(CreateDoor, ListDoor):
    """Releases of openings: list, and release one as a qualified electrical person at a log-in."""

    noun, room = "opening_release", "panels"
    needs = {"GET": Right.VIEW, "POST": Right.RELEASE_OPENING}
    shape, input_shape, filterset_class = OpeningReleaseShape, OpeningReleaseInput, OpeningReleaseFilters
    orderings = {"-at": ("-at",), "until_at": ("until_at",)}
    references = {"finding_id": Reference(register.findings)}
    detail_route = "opening-release"

    def rows(self) -> QuerySet[Any]:
        """Return all releases."""
        return queries.releases()

    def act(self, data: dict[str, Any]) -> Any:
        """Release it."""
        made = actions.release_opening(actor=self.actor, at=self.at, **data)
        return queries.releases().get(pk=made.pk)


class OpeningRelease(DetailDoor):
    """One release."""

    noun, room = "opening_release", "panels"
    needs = {"GET": Right.VIEW}
    shape = OpeningReleaseShape

    def rows(self) -> QuerySet[Any]:
        """Return all releases."""
        return queries.releases()


class OpeningReleaseVoid(ActDoor):
    """Take a release back; this takes no qualification, only a reason."""

    operation, room = "opening_release_void", "panels"
    needs = {"POST": Right.RELEASE_OPENING}
    shape, input_shape = OpeningReleaseShape, PanelVoidInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all releases."""
        return queries.releases()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Take it back."""
        actions.void_release(actor=self.actor, at=self.at, release_id=obj.pk, **data)
        return queries.releases().get(pk=obj.pk)
