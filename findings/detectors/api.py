"""Doors of instruments."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from findings.detectors import actions, queries
from findings.detectors.rules import calibration_warning, is_overdue
from findings.plant.rules import Right
from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, ChangeDoor, CreateDoor, ListDoor

SCALES = ("absolute", "relative")


class InstrumentShape(shapes.Shape):
    """An ultrasound detector or a flow meter."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    code = shapes.TextField()
    name = shapes.TextField()
    serial = shapes.TextField()
    scale = shapes.ChoiceField(choices=SCALES, help_text="absolute: dB re 20 µPa; relative: instrument dB.")
    calibration_due_on = shapes.DateField(allow_null=True)
    calibration_certificate = shapes.TextField()
    calibration_overdue = serializers.SerializerMethodField()
    warning = serializers.SerializerMethodField()
    retired_on = shapes.DateField(allow_null=True)
    version = shapes.IntegerField()
    created_at = shapes.AwareDateTimeField()

    def get_calibration_overdue(self, instrument: Any) -> bool:
        """Tell whether the calibration ran out, by the site's calendar."""
        today = queries.day_at(instrument, self.context["view"].at)
        return is_overdue(instrument.calibration_due_on, today)

    def get_warning(self, instrument: Any) -> str:
        """Return what a reader of its readings should know, or an empty text."""
        today = queries.day_at(instrument, self.context["view"].at)
        return calibration_warning(instrument.calibration_due_on, today)


class InstrumentInput(shapes.InputShape):
    """A new instrument."""

    site_id = shapes.UuidField()
    code = shapes.TextField(max_length=64)
    name = shapes.TextField(max_length=200)
    serial = shapes.TextField(max_length=100, required=False, allow_blank=True)
    scale = shapes.ChoiceField(choices=SCALES, required=False)
    calibration_due_on = shapes.DateField(required=False, allow_null=True)
    calibration_certificate = shapes.TextField(max_length=200, required=False, allow_blank=True)


class InstrumentChange(shapes.InputShape):
    """What may change about an instrument."""

    code = shapes.TextField(max_length=64)
    name = shapes.TextField(max_length=200)
    serial = shapes.TextField(max_length=100, allow_blank=True)
    scale = shapes.ChoiceField(choices=SCALES)
    retired_on = shapes.DateField(allow_null=True)


class InstrumentFilters(filtering.StrictFilterSet):
    """Filters of instruments."""

    site_id = filtering.UuidFilter()
    in_use = filtering.BooleanFilter(field_name="retired_on", lookup_expr="isnull")
    calibration_due_before = filtering.DateFilter(field_name="calibration_due_on", lookup_expr="lt")
    code = filtering.CodeFilter()
    q = filtering.TextFilter(fields=["code", "name", "serial"])


class Instruments(CreateDoor, ListDoor):
    """Instruments."""

    noun, room = "instrument", "detectors"
    needs = {"GET": Right.VIEW, "POST": Right.REGISTER}
    shape, input_shape, filterset_class = InstrumentShape, InstrumentInput, InstrumentFilters
    orderings = {"code": ("code",), "calibration_due_on": ("calibration_due_on",)}

    def rows(self) -> QuerySet[Any]:
        """Return all instruments."""
        return queries.instruments()

    def act(self, data: dict[str, Any]) -> Any:
        """Make an instrument."""
        return actions.add_instrument(actor=self.actor, at=self.at, **data)


class Instrument(ChangeDoor):
    """One instrument."""

    noun, room = "instrument", "detectors"
    needs = {"GET": Right.VIEW, "PATCH": Right.REGISTER}
    shape, input_shape = InstrumentShape, InstrumentChange
    # Whether the calibration holds changes with the day, not with the version.
    conditional = False

    def rows(self) -> QuerySet[Any]:
        """Return all instruments."""
        return queries.instruments()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Change or retire the instrument."""
        return actions.change_instrument(
            actor=self.actor, at=self.at, instrument_id=obj.pk, version=self.version, **data
        )


class CalibrationInput(shapes.InputShape):
    """A calibration: the day until which it holds, and its certificate."""

    calibration_due_on = shapes.DateField()
    certificate = shapes.TextField(max_length=200)


class InstrumentCalibrations(ActDoor):
    """Record a calibration."""

    operation, room = "instrument_record_calibration", "detectors"
    needs = {"POST": Right.RECORD}
    shape, input_shape = InstrumentShape, CalibrationInput

    def rows(self) -> QuerySet[Any]:
        """Return all instruments."""
        return queries.instruments()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Record it."""
        return actions.record_calibration(
            actor=self.actor, at=self.at, instrument_id=obj.pk, version=self.version, **data
        )
