"""Doors of calibration leaks and of what they teach."""

from __future__ import annotations

from itertools import zip_longest
from typing import Any

from django.db.models import QuerySet
from rest_framework.response import Response

from findings.calibration import actions, queries
from findings.calibration.rules import AIRBORNE, MEASURED, NewLeak, Taught
from findings.detectors import queries as detectors
from findings.physics.gases import GASES
from findings.physics.level_form import LeakFamily
from findings.plant.rules import Right
from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, Door, ListDoor

ATTACHMENTS = [(word.value, word.value) for word in AIRBORNE]
METHODS = [(word.value, word.value) for word in MEASURED]
FAMILIES = [(word.value, word.value) for word in LeakFamily]
GAS_NAMES = [(name, name) for name in GASES]


class CalibrationLeakShape(shapes.Shape):
    """A leak whose level and flow are both known. Flow at 1 bar, 20 °C, dry; level also brought to 1 m."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    instrument_id = shapes.UuidField()
    reading_id = shapes.UuidField(allow_null=True, help_text="The reading that it came from by itself.")
    attachment = shapes.ChoiceField(choices=ATTACHMENTS)
    gas = shapes.ChoiceField(choices=GAS_NAMES)
    leak_family = shapes.ChoiceField(choices=FAMILIES)
    taken_at = shapes.AwareDateTimeField()
    level_db = shapes.FloatField()
    background_db = shapes.FloatField(allow_null=True)
    distance_m = shapes.FloatField()
    band_centre_hz = shapes.FloatField(allow_null=True)
    air_temperature_k = shapes.FloatField(allow_null=True)
    relative_humidity = shapes.FloatField(allow_null=True)
    air_pressure_absolute_pa = shapes.FloatField(source="air_pressure_pa")
    normalised_level_db = shapes.FloatField(help_text="At 1 m, background taken off.")
    pressure_ratio = shapes.FloatField(help_text="Absolute pressure before the leak over the air's.")
    flow_m3_per_s = shapes.FloatField()
    flow_u_m3_per_s = shapes.FloatField()
    flow_method = shapes.ChoiceField(choices=METHODS)
    note = shapes.TextField()
    recorded_at = shapes.AwareDateTimeField()
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class CalibrationLeakInput(shapes.InputShape):
    """A leak heard and measured on purpose, at a test nozzle for instance. SI units."""

    taken_at = shapes.AwareDateTimeField()
    attachment = shapes.ChoiceField(choices=ATTACHMENTS)
    gas = shapes.ChoiceField(choices=GAS_NAMES)
    leak_family = shapes.ChoiceField(choices=FAMILIES)
    level_db = shapes.FloatField()
    background_db = shapes.FloatField(required=False, allow_null=True)
    distance_m = shapes.FloatField()
    pressure_gauge_pa = shapes.FloatField(help_text="Before the leak, against the site's atmosphere.")
    flow_m3_per_s = shapes.FloatField(help_text="At 1 bar, 20 °C, dry.")
    flow_u_m3_per_s = shapes.FloatField(help_text="Its standard uncertainty, at most 30 % of it.")
    flow_method = shapes.ChoiceField(choices=METHODS)
    band_centre_hz = shapes.FloatField(required=False, allow_null=True)
    air_temperature_k = shapes.FloatField(required=False, allow_null=True)
    relative_humidity = shapes.FloatField(required=False, allow_null=True)
    note = shapes.TextField(allow_blank=True, default="")


class CalibrationLeakFilters(filtering.StrictFilterSet):
    """Narrow an instrument's calibration leaks."""

    attachment = filtering.ChoicesFilter(choices=ATTACHMENTS)
    gas = filtering.ChoicesFilter(choices=GAS_NAMES)
    leak_family = filtering.ChoicesFilter(choices=FAMILIES)
    reading_id = filtering.UuidFilter()
    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)


class InstrumentCalibrationLeaks(CreateDoor, ListDoor):
    """The leaks that an instrument was calibrated with: list, and add one.

    A reading that carries a level and a directly measured flow adds one by itself.
    """

    noun, room = "calibration_leak", "calibration"
    needs = {"GET": Right.VIEW, "POST": Right.RECORD}
    shape, input_shape, filterset_class = CalibrationLeakShape, CalibrationLeakInput, CalibrationLeakFilters
    orderings = {"-taken_at": ("-taken_at",), "taken_at": ("taken_at",)}
    detail_route = "calibration-leak"

    def rows(self) -> QuerySet[Any]:
        """Return the instrument's leaks."""
        return queries.leaks_of(self.instrument_id())

    def instrument_id(self) -> Any:
        """Return the id of the instrument. Raises NotFound."""
        return self.one(detectors.instruments(), self.kwargs["id"]).pk

    def post(self, *args: Any, **kwargs: Any) -> Response:
        """Add a leak, once the instrument is known to be the caller's to see."""
        self.instrument_id()
        return super().post(*args, **kwargs)

    def act(self, data: dict[str, Any]) -> Any:
        """Add it."""
        return actions.add_calibration_leak(
            actor=self.actor, at=self.at, instrument_id=self.kwargs["id"], leak=NewLeak(**data)
        )


class CalibrationLeak(DetailDoor):
    """One calibration leak."""

    noun, room = "calibration_leak", "calibration"
    needs = {"GET": Right.VIEW}
    shape = CalibrationLeakShape

    def rows(self) -> QuerySet[Any]:
        """Return all calibration leaks."""
        return queries.calibration_leaks()


class CalibrationLeakVoidInput(shapes.InputShape):
    """Why no fit may rest on it."""

    reason = shapes.TextField(max_length=300)


class CalibrationLeakVoid(ActDoor):
    """Say that no fit may rest on a calibration leak."""

    operation, room = "calibration_leak_void", "calibration"
    needs = {"POST": Right.ASSESS}
    shape, input_shape = CalibrationLeakShape, CalibrationLeakVoidInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all calibration leaks."""
        return queries.calibration_leaks()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void it."""
        return actions.void_calibration_leak(actor=self.actor, at=self.at, leak_id=obj.pk, **data)


class CoefficientShape(shapes.Shape):
    """A coefficient of log10 Q = a + b (L - 60) + c log10(PR / 7), with its 95 % interval."""

    name = shapes.TextField()
    value = shapes.FloatField()
    low = shapes.FloatField()
    high = shapes.FloatField()
    text = shapes.TextField()


class FitLeakShape(shapes.Shape):
    """A leak beside the fit: measured over expected flow in decades, and in units of the scatter."""

    id = shapes.UuidField()
    taken_at = shapes.AwareDateTimeField()
    normalised_level_db = shapes.FloatField()
    pressure_ratio = shapes.FloatField()
    flow_m3_per_s = shapes.FloatField()
    flow_u_m3_per_s = shapes.FloatField()
    expected_m3_per_s = shapes.FloatField(allow_null=True)
    residual_decades = shapes.FloatField(allow_null=True)
    residual_scatters = shapes.FloatField(allow_null=True)
    leverage = shapes.FloatField(allow_null=True)


class RangeShape(shapes.Shape):
    """From and to."""

    low = shapes.FloatField()
    high = shapes.FloatField()


class NextLeakShape(shapes.Shape):
    """The leak worth measuring next, and the usual factor of the 95 % limits before and after it."""

    level_db = shapes.FloatField(help_text="At 1 m.")
    pressure_ratio = shapes.FloatField()
    factor_now = shapes.FloatField()
    factor_after = shapes.FloatField()
    text = shapes.TextField()


class FitReasonShape(shapes.Shape):
    """Why there is no fit."""

    code = shapes.TextField()
    text = shapes.TextField()


class CalibrationFitShape(shapes.Shape):
    """What the leaks of one setup teach; without a model the reasons say why."""

    attachment = shapes.ChoiceField(choices=ATTACHMENTS)
    gas = shapes.ChoiceField(choices=GAS_NAMES)
    leak_family = shapes.ChoiceField(choices=FAMILIES)
    trust = shapes.TextField(help_text="How far to trust it; empty without a model.")
    count = shapes.IntegerField()
    uses_prior = shapes.BooleanField(allow_null=True)
    scatter_decades = shapes.FloatField(allow_null=True, help_text="One leak's scatter in log10 of the flow.")
    degrees_of_freedom = shapes.FloatField(allow_null=True)
    coefficients = CoefficientShape(many=True)
    level_range_db = RangeShape(allow_null=True)
    pressure_ratio_range = RangeShape(allow_null=True)
    leaks = FitLeakShape(many=True)
    next_leak = NextLeakShape(allow_null=True)
    model_version = shapes.TextField()
    reasons = FitReasonShape(many=True)


class CalibrationFitsShape(shapes.Shape):
    """What an instrument's calibration leaks teach, setup by setup."""

    instrument_id = shapes.UuidField()
    scale = shapes.TextField()
    fits = CalibrationFitShape(many=True)


class InstrumentCalibrationFits(Door):
    """What an instrument's calibration leaks teach: one fit per attachment, gas and form of the opening."""

    operation, room = "calibration_fit_list", "calibration"
    needs = {"GET": Right.VIEW}
    shape = CalibrationFitsShape

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer the fits by what is known now."""
        instrument = self.one(detectors.instruments(), self.kwargs["id"])
        fits = [_shown(one) for one in queries.fits_of(instrument, self.at)]
        return self.answer({"instrument_id": instrument.pk, "scale": instrument.scale, "fits": fits})


def _shown(one: queries.ShownFit) -> dict[str, Any]:
    """Return a fit as the shape takes it."""
    fit, model = one.fit, one.fit.model
    leaks = [
        {
            **{name: getattr(leak, name) for name in _OF_LEAK},
            **dict.fromkeys(Taught._fields),
            **({} if taught is None else taught._asdict()),
        }
        for leak, taught in zip_longest(one.leaks, fit.taught)
    ]
    return {
        **fit.setup._asdict(),
        "trust": "" if model is None else model.label,
        "count": len(one.leaks),
        "uses_prior": None if model is None else model.uses_prior,
        "scatter_decades": None if model is None else model.scale,
        "degrees_of_freedom": None if model is None else model.degrees_of_freedom,
        "coefficients": [coefficient._asdict() for coefficient in fit.coefficients],
        "level_range_db": None if model is None else _range(model.level_range_db),
        "pressure_ratio_range": None if model is None else _range(model.pressure_ratio_range),
        "leaks": leaks,
        "next_leak": None if fit.next_leak is None else fit.next_leak._asdict(),
        "model_version": "" if model is None else model.version,
        "reasons": [reason._asdict() for reason in fit.reasons],
    }


_OF_LEAK = (
    "id",
    "taken_at",
    "normalised_level_db",
    "pressure_ratio",
    "flow_m3_per_s",
    "flow_u_m3_per_s",
)


def _range(pair: tuple[float, float]) -> dict[str, float]:
    return {"low": pair[0], "high": pair[1]}
