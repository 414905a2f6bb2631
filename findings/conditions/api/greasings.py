"""Doors of grease: what was given by ear and how the level answered, and how much and how often."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework.response import Response

from findings.conditions import actions, queries
from findings.conditions.api.bearings import OfPoint
from findings.conditions.api.cautions import (
    ProbeCautionsField,
    VoidReasonInput,
    WearFigureShape,
    WearReasonShape,
)
from findings.conditions.rules.bearings import charge_of, interval_of
from findings.conditions.rules.greasings import NewGreasing
from findings.physics.greasing import Advice, Outcome, portion_kg
from findings.plant import queries as plant
from findings.plant.rules import Right
from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, DetailDoor, Door

OUTCOMES = [(word.value, word.value) for word in Outcome]
ADVICE = [(word.value, word.value) for word in Advice]


class GreasingInput(shapes.InputShape):
    """Grease given by ear between readings that carry the technician's marks before, during and after.

    Nothing is detected: the technician says which reading is which. 0.005 kg are 5 g.
    """

    before_id = shapes.UuidField(help_text="The reading marked “before”.")
    during_id = shapes.UuidField(required=False, allow_null=True, help_text="One marked “during”, if any.")
    after_id = shapes.UuidField(help_text="The reading marked “after”.")
    grease_kg = shapes.FloatField(min_value=0.0, max_value=100.0, help_text="All that went in, kg.")
    during_grease_kg = shapes.FloatField(
        min_value=0.0, max_value=100.0, required=False, allow_null=True, help_text="In by the reading during."
    )
    rose_during = shapes.BooleanField(
        default=False, help_text="The level began to rise while grease went in: time to stop."
    )
    grease_name = shapes.TextField(max_length=120, allow_blank=True, default="")
    greased_at = shapes.AwareDateTimeField(
        required=False, allow_null=True, help_text="Else the moment of the reading after."
    )
    note = shapes.TextField(allow_blank=True, default="")


class GreasingShape(shapes.Shape):
    """Grease that was given by ear, and how the level answered."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    point_id = shapes.UuidField()
    point_code = shapes.TextField(source="point.code")
    before_id = shapes.UuidField()
    during_id = shapes.UuidField(allow_null=True)
    after_id = shapes.UuidField()
    level_before_db = shapes.FloatField(source="before.level_db")
    level_after_db = shapes.FloatField(source="after.level_db")
    grease_kg = shapes.FloatField()
    during_grease_kg = shapes.FloatField(allow_null=True)
    rose_during = shapes.BooleanField()
    grease_name = shapes.TextField()
    at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    greased_by = shapes.TextField(source="actor_name")
    note = shapes.TextField()
    outcome = shapes.ChoiceField(choices=OUTCOMES)
    advice = shapes.ChoiceField(choices=ADVICE)
    change_db = shapes.FloatField(allow_null=True, help_text="After less before.")
    change_low_db = shapes.FloatField(allow_null=True)
    change_high_db = shapes.FloatField(allow_null=True)
    charge_kg = shapes.FloatField(allow_null=True, help_text="The bearing's charge; null: not known.")
    left_kg = shapes.FloatField(allow_null=True)
    reasons = WearReasonShape(many=True)
    cautions = ProbeCautionsField()
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class GreasingFilters(filtering.StrictFilterSet):
    """Narrow a point's greasings."""

    outcome = filtering.ChoicesFilter(choices=OUTCOMES)
    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)


class PointGreasings(OfPoint):
    """Grease given at a point: list, and record one."""

    noun, room = "greasing", "conditions"
    needs = {"GET": Right.VIEW, "POST": Right.RECORD}
    shape, input_shape, filterset_class = GreasingShape, GreasingInput, GreasingFilters
    orderings = {"-at": ("-at",), "at": ("at",)}
    detail_route = "greasing"

    def rows(self) -> QuerySet[Any]:
        """Return the point's greasings."""
        return queries.greasings().filter(point_id=self.point_id())

    def act(self, data: dict[str, Any]) -> Any:
        """Record it."""
        given = NewGreasing(**data)
        return actions.record_greasing(actor=self.actor, at=self.at, point_id=self.kwargs["id"], given=given)


class Greasing(DetailDoor):
    """One greasing."""

    noun, room = "greasing", "conditions"
    needs = {"GET": Right.VIEW}
    shape = GreasingShape

    def rows(self) -> QuerySet[Any]:
        """Return all greasings."""
        return queries.greasings()


class GreasingVoid(ActDoor):
    """Say that a greasing was recorded wrongly: trends no longer begin at it."""

    operation, room = "greasing_void", "conditions"
    needs = {"POST": Right.ASSESS}
    shape, input_shape = GreasingShape, VoidReasonInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all greasings."""
        return queries.greasings()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void it."""
        return actions.void_greasing(actor=self.actor, at=self.at, greasing_id=obj.pk, **data)


class GreaseAdviceShape(shapes.Shape):
    """How much grease a point's bearing takes and how long it lasts, by rules of thumb, or why not."""

    point_id = shapes.UuidField()
    charge_kg = WearFigureShape(help_text="Grease of one relubrication.")
    portion_least_kg = shapes.FloatField(allow_null=True, help_text="Least before the next reading.")
    portion_most_kg = shapes.FloatField(allow_null=True, help_text="Most before the next reading.")
    interval_s = WearFigureShape(help_text="Running time until the next, seconds.")
    last_greased_at = shapes.AwareDateTimeField(allow_null=True)
    cautions = ProbeCautionsField()


class GreaseAdvice(Door):
    """How much grease a point's bearing takes, and how often, as far as its particulars tell."""

    operation, room = "grease_advice_read", "conditions"
    needs = {"GET": Right.VIEW}
    shape = GreaseAdviceShape

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer by what is known of the bearing now."""
        point = self.one(plant.points(), self.kwargs["id"])
        known = queries.particulars_at(point.pk, self.at)
        charge, interval = charge_of(known), interval_of(known)
        least, most = (None, None) if charge.value is None else portion_kg(charge.value)
        return self.answer(
            {
                "point_id": point.pk,
                "charge_kg": charge,
                "portion_least_kg": least,
                "portion_most_kg": most,
                "interval_s": interval,
                "last_greased_at": queries.last_greased_at(point.pk),
            }
        )
