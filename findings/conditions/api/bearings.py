"""Doors of what is known of a point's bearing or gear, and since when its machine was good."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework.response import Response

from findings.conditions import actions, queries
from findings.conditions.api.cautions import VoidReasonInput
from findings.conditions.rules.bearings import BOUNDS, MEMBERS, Particulars, TemperatureClass
from findings.conditions.rules.good_states import GoodCause
from findings.physics.relubrication import BearingType
from findings.plant import queries as plant
from findings.plant.rules import Right
from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, ListDoor

TYPES = [(word.value, word.value) for word in BearingType]
WARMTHS = [(word.value, word.value) for word in TemperatureClass]
CAUSES = [(word.value, word.value) for word in GoodCause]


def _number(member: str, text: str) -> shapes.FloatField:
    low, high = BOUNDS[member]
    return shapes.FloatField(required=False, allow_null=True, help_text=f"{text} From {low:g} to {high:g}.")


def _count(member: str, text: str) -> shapes.IntegerField:
    low, high = (int(end) for end in BOUNDS[member])
    return shapes.IntegerField(min_value=low, max_value=high, required=False, allow_null=True, help_text=text)


class BearingParticularsInput(shapes.InputShape):
    """What is known of the bearing or gear at a point from a moment on, lengths in metres; all optional.

    A new set holds whole: what it doesn't say isn't known from then on.
    """

    bearing_type = shapes.ChoiceField(
        choices=TYPES, allow_blank=True, default="", help_text="The kind of its rolling elements."
    )
    designation = shapes.TextField(
        max_length=60, allow_blank=True, default="", help_text="What is stamped on it, such as 6310."
    )
    bore_m = _number("bore_m", "Bore, m: 0.05 for 50 mm.")
    outer_diameter_m = _number("outer_diameter_m", "Outer diameter, m.")
    width_m = _number("width_m", "Width, m.")
    elements = _count("elements", "Number of rolling elements of one row.")
    element_diameter_m = _number("element_diameter_m", "Diameter of a rolling element, m.")
    pitch_diameter_m = _number("pitch_diameter_m", "Circle of the middles of the elements, m.")
    contact_angle_rad = _number("contact_angle_rad", "Contact angle, rad; a radial bearing has 0.")
    shaft_speed_hz = _number("shaft_speed_hz", "Rated speed of the shaft, turns per second.")
    speed_varies = shapes.BooleanField(
        required=False,
        allow_null=True,
        help_text="False: it runs at the rated speed or stands still, so that this speed counts for a "
        "reading that notes none.",
    )
    grease_speed_limit_hz = _number("grease_speed_limit_hz", "The bearing's own limit with grease.")
    gear_teeth = _count("gear_teeth", "Teeth of the wheel on this shaft.")
    vertical_shaft = shapes.BooleanField(required=False, allow_null=True)
    temperature_class = shapes.ChoiceField(
        choices=WARMTHS, allow_blank=True, default="", help_text="How warm the bearing runs at most."
    )
    note = shapes.TextField(allow_blank=True, default="", help_text="What else matters of the machine.")
    source = shapes.TextField(max_length=300, help_text="Where it is known from.")  # type: ignore[assignment]
    from_at = shapes.AwareDateTimeField()


class BearingParticularsShape(shapes.Shape):
    """What is known of the bearing or gear at a point from a moment on; SI units."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    point_id = shapes.UuidField()
    point_code = shapes.TextField(source="point.code")
    bearing_type = shapes.ChoiceField(choices=TYPES, allow_blank=True)
    designation = shapes.TextField()
    bore_m = shapes.FloatField(allow_null=True)
    outer_diameter_m = shapes.FloatField(allow_null=True)
    width_m = shapes.FloatField(allow_null=True)
    elements = shapes.IntegerField(allow_null=True)
    element_diameter_m = shapes.FloatField(allow_null=True)
    pitch_diameter_m = shapes.FloatField(allow_null=True)
    contact_angle_rad = shapes.FloatField(allow_null=True)
    shaft_speed_hz = shapes.FloatField(allow_null=True)
    speed_varies = shapes.BooleanField(allow_null=True)
    grease_speed_limit_hz = shapes.FloatField(allow_null=True)
    gear_teeth = shapes.IntegerField(allow_null=True)
    vertical_shaft = shapes.BooleanField(allow_null=True)
    temperature_class = shapes.ChoiceField(choices=WARMTHS, allow_blank=True)
    note = shapes.TextField()
    source = shapes.TextField()  # type: ignore[assignment]
    from_at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class PointRowFilters(filtering.StrictFilterSet):
    """Narrow what was said of a point."""

    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)
    from_before = filtering.AwareDateTimeFilter(field_name="from_at", lookup_expr="lte")


class OfPoint(CreateDoor, ListDoor):
    """Rows of one measuring point: list, and add one once the point is known to be the caller's to see."""

    orderings = {"-from_at": ("-from_at",), "from_at": ("from_at",)}
    filterset_class = PointRowFilters

    def point_id(self) -> Any:
        """Return the id of the point. Raises NotFound."""
        return self.one(plant.points(), self.kwargs["id"]).pk

    def post(self, *args: Any, **kwargs: Any) -> Response:
        """Add a row."""
        self.point_id()
        return super().post(*args, **kwargs)


class PointBearings(OfPoint):
    """What is known of a point's bearing or gear: the sets said so far, and say a new one."""

    noun, room = "bearing_particulars", "conditions"
    needs = {"GET": Right.VIEW, "POST": Right.REGISTER}
    shape, input_shape = BearingParticularsShape, BearingParticularsInput
    detail_route = "bearing-particulars"

    def rows(self) -> QuerySet[Any]:
        """Return what was said of the point's bearing."""
        return queries.bearing_particulars().filter(point_id=self.point_id())

    def act(self, data: dict[str, Any]) -> Any:
        """Say it."""
        known = Particulars(**{name: data.pop(name) for name in MEMBERS if name in data})
        return actions.say_particulars(
            actor=self.actor, at=self.at, point_id=self.kwargs["id"], known=known, **data
        )


class BearingParticulars(DetailDoor):
    """One set of particulars."""

    noun, room = "bearing_particulars", "conditions"
    needs = {"GET": Right.VIEW}
    shape = BearingParticularsShape

    def rows(self) -> QuerySet[Any]:
        """Return all particulars."""
        return queries.bearing_particulars()


class BearingParticularsVoid(ActDoor):
    """Say that particulars never held."""

    operation, room = "bearing_particulars_void", "conditions"
    needs = {"POST": Right.REGISTER}
    shape, input_shape = BearingParticularsShape, VoidReasonInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all particulars."""
        return queries.bearing_particulars()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void them."""
        return actions.void_particulars(actor=self.actor, at=self.at, particulars_id=obj.pk, **data)


class GoodStateInput(shapes.InputShape):
    """Say that a machine was good from a moment on; quiet readings from then on are its baseline.

    Six readings of one instrument, probe, speed and load are the least. A new bearing or a new point begins
    anew; fresh grease doesn't.
    """

    cause = shapes.ChoiceField(choices=CAUSES)
    from_at = shapes.AwareDateTimeField()
    until_at = shapes.AwareDateTimeField(
        required=False,
        allow_null=True,
        help_text="Readings count until then; without it the first six do.",
    )
    reason = shapes.TextField(max_length=500, help_text="How that is known, in at least ten characters.")


class GoodStateShape(shapes.Shape):
    """Somebody's word that a machine was good from a moment on."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    point_id = shapes.UuidField()
    point_code = shapes.TextField(source="point.code")
    cause = shapes.ChoiceField(choices=CAUSES)
    from_at = shapes.AwareDateTimeField()
    until_at = shapes.AwareDateTimeField(allow_null=True)
    reason = shapes.TextField()
    confirmed_by = shapes.TextField(source="actor_name")
    recorded_at = shapes.AwareDateTimeField()
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class PointGoodStates(OfPoint):
    """Since when a point's machine was said to be good: list, and say so."""

    noun, room = "good_state", "conditions"
    needs = {"GET": Right.VIEW, "POST": Right.ASSESS}
    shape, input_shape = GoodStateShape, GoodStateInput
    detail_route = "good-state"

    def rows(self) -> QuerySet[Any]:
        """Return what was said of the point."""
        return queries.good_states().filter(point_id=self.point_id())

    def act(self, data: dict[str, Any]) -> Any:
        """Say it."""
        return actions.confirm_good(actor=self.actor, at=self.at, point_id=self.kwargs["id"], **data)


class GoodState(DetailDoor):
    """One word that a machine was good."""

    noun, room = "good_state", "conditions"
    needs = {"GET": Right.VIEW}
    shape = GoodStateShape

    def rows(self) -> QuerySet[Any]:
        """Return every such word."""
        return queries.good_states()


class GoodStateVoid(ActDoor):
    """Say that a machine wasn't good then after all."""

    operation, room = "good_state_void", "conditions"
    needs = {"POST": Right.ASSESS}
    shape, input_shape = GoodStateShape, VoidReasonInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return every such word."""
        return queries.good_states()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void it."""
        return actions.void_good_state(actor=self.actor, at=self.at, good_state_id=obj.pk, **data)
