"""Doors of a site's own wear ladder."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework.response import Response

from findings.conditions import actions, queries
from findings.conditions.api.cautions import VoidReasonInput
from findings.conditions.rules.ladders import MOST_STEPS, steps_of, steps_to_json
from findings.physics.wear_ladder import Step
from findings.plant import queries as plant
from findings.plant.rules import Right
from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, Door, ListDoor

USUAL = "The usual ladder: common practice, a starting point for a site's own; no limit of a standard."


class WearStepShape(shapes.Shape):
    """A step of the ladder, reached when the level lies that far over the baseline."""

    key = shapes.TextField()
    rise_db = shapes.FloatField()
    meaning = shapes.TextField()
    source = shapes.TextField()  # type: ignore[assignment]
    one_reading = shapes.BooleanField(help_text="One reading is enough for a work order.")


class WearStepInput(shapes.InputShape):
    """A step of the ladder, reached when the level lies that far over the baseline."""

    key = shapes.TextField(max_length=40, help_text="Small letters, digits and underscores.")
    rise_db = shapes.FloatField()
    meaning = shapes.TextField(max_length=200)
    source = shapes.TextField(max_length=300)  # type: ignore[assignment]
    one_reading = shapes.BooleanField(help_text="One reading is enough; the top step always says so.")


class WearLadderShape(shapes.Shape):
    """A site's own ladder, in force from a moment until the next."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    steps = WearStepShape(many=True)
    source = shapes.TextField()  # type: ignore[assignment]
    from_at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class WearLadderInput(shapes.InputShape):
    """A site's own ladder, the lowest step first: 8, 12, 16 and 35 dB are common practice."""

    site_id = shapes.UuidField()
    steps = shapes.ListField(child=WearStepInput(), min_length=1, max_length=MOST_STEPS)
    source = shapes.TextField(max_length=300, help_text="Who set it.")  # type: ignore[assignment]
    from_at = shapes.AwareDateTimeField()


class WearLadderFilters(filtering.StrictFilterSet):
    """Filters of ladders."""

    site_id = filtering.UuidFilter()
    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)
    from_before = filtering.AwareDateTimeFilter(field_name="from_at", lookup_expr="lte")


class WearLadders(CreateDoor, ListDoor):
    """The sites' own wear ladders."""

    noun, room = "wear_ladder", "conditions"
    needs = {"GET": Right.VIEW, "POST": Right.ASSESS}
    shape, input_shape, filterset_class = WearLadderShape, WearLadderInput, WearLadderFilters
    orderings = {"-from_at": ("-from_at",), "from_at": ("from_at",)}

    def rows(self) -> QuerySet[Any]:
        """Return all ladders."""
        return queries.wear_ladders()

    def act(self, data: dict[str, Any]) -> Any:
        """Set the ladder."""
        steps = [Step(**step) for step in data.pop("steps")]
        return actions.set_ladder(actor=self.actor, at=self.at, steps=steps, **data)


class WearLadder(DetailDoor):
    """One ladder."""

    noun, room = "wear_ladder", "conditions"
    needs = {"GET": Right.VIEW}
    shape = WearLadderShape

    def rows(self) -> QuerySet[Any]:
        """Return all ladders."""
        return queries.wear_ladders()


class WearLadderVoid(ActDoor):
    """Say that a ladder never held."""

    operation, room = "wear_ladder_void", "conditions"
    needs = {"POST": Right.ASSESS}
    shape, input_shape = WearLadderShape, VoidReasonInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all ladders."""
        return queries.wear_ladders()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void it."""
        return actions.void_ladder(actor=self.actor, at=self.at, ladder_id=obj.pk, **data)


class LadderInForceShape(shapes.Shape):
    """The ladder that a site's readings are judged by now."""

    ladder_id = shapes.UuidField(allow_null=True, help_text="Null: the site has none of its own.")
    is_usual = shapes.BooleanField()
    source = shapes.TextField()  # type: ignore[assignment]
    from_at = shapes.AwareDateTimeField(allow_null=True)
    steps = WearStepShape(many=True)


class LadderInForce(Door):
    """The ladder that a site's readings are judged by now: its own, else the usual one."""

    operation, room = "wear_ladder_in_force", "conditions"
    needs = {"GET": Right.VIEW}
    shape = LadderInForceShape

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer the ladder."""
        site = self.one(plant.sites(), self.kwargs["id"], site_field="id")
        own = queries.ladder_at(site.pk, self.at)
        return self.answer(
            {
                "ladder_id": None if own is None else own.pk,
                "is_usual": own is None,
                "source": USUAL if own is None else own.source,
                "from_at": None if own is None else own.from_at,
                "steps": steps_to_json(steps_of(None if own is None else own.steps)),
            }
        )
