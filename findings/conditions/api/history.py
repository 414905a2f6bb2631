"""The door of a point's wear history."""

from __future__ import annotations

from typing import Any

from rest_framework.response import Response

from findings.conditions import queries
from findings.conditions.api.cautions import ProbeCautionsField, WearFigureShape, WearReasonShape
from findings.conditions.api.ladders import WearStepShape
from findings.physics.wear_ladder import WearState
from findings.plant import queries as plant
from findings.plant.rules import Right
from plantcare.api import shapes
from plantcare.api.views import Door

STATES = [(word.value, word.value) for word in WearState]


class WearReadingShape(shapes.Shape):
    """A probe reading of the history."""

    reading_id = shapes.UuidField(source="reading.id")
    taken_at = shapes.AwareDateTimeField(source="reading.taken_at")
    kind = shapes.TextField(source="reading.kind", help_text="Empty: nobody named a fault.")
    level_db = shapes.FloatField(source="reading.level_db")
    instrument_code = shapes.TextField(source="reading.instrument.code", default="")
    probe = shapes.TextField(source="reading.probe")
    shaft_speed_hz = shapes.FloatField(source="reading.shaft_speed_hz", allow_null=True)
    load_share = shapes.FloatField(source="reading.load_share", allow_null=True)
    greasing = shapes.TextField(source="reading.greasing")
    in_baseline = shapes.BooleanField()
    compares = shapes.BooleanField(help_text="With the newest: instrument, probe, speed and load.")
    rise_db = shapes.FloatField(allow_null=True, help_text="Over the baseline; null where it can't be told.")


class WearBaselineShape(shapes.Shape):
    """The baseline of the newest reading's setting, or the reasons why there is none."""

    mean_db = shapes.FloatField(allow_null=True)
    mean_low_db = shapes.FloatField(allow_null=True)
    mean_high_db = shapes.FloatField(allow_null=True)
    count = shapes.IntegerField()
    sd_db = shapes.FloatField(allow_null=True)
    median_db = shapes.FloatField(allow_null=True)
    robust_sd_db = shapes.FloatField(allow_null=True, help_text="1.4826 times the median deviation.")
    tolerance_factor = shapes.FloatField(allow_null=True)
    limit_db = shapes.FloatField(allow_null=True, help_text="95 % of a good machine's levels lie below it.")
    speed_hz = shapes.FloatField(allow_null=True)
    load_share = shapes.FloatField(allow_null=True)
    reasons = WearReasonShape(many=True)


class WearTrendShape(shapes.Shape):
    """The trend of the readings that compare, or the reasons why there is none."""

    slope_db_per_day = shapes.FloatField(allow_null=True)
    slope_low_db_per_day = shapes.FloatField(allow_null=True)
    slope_high_db_per_day = shapes.FloatField(allow_null=True)
    count = shapes.IntegerField()
    p_value = shapes.FloatField(allow_null=True)
    upward = shapes.BooleanField(allow_null=True, help_text="It rises beyond doubt at 95 %.")
    robust_slope_db_per_day = shapes.FloatField(allow_null=True)
    kendall_tau = shapes.FloatField(allow_null=True)
    reasons = WearReasonShape(many=True)


class WearNextStepShape(shapes.Shape):
    """The next step of the ladder, and when a single reading will reach it, or why there is no date."""

    key = shapes.TextField(allow_null=True)
    rise_db = shapes.FloatField(allow_null=True)
    from_at = shapes.TextField(allow_null=True, help_text="Lower end of the 95 % interval.")
    at = shapes.TextField(allow_null=True)
    until_at = shapes.TextField(allow_null=True, help_text="Upper end; null beyond a hundred years.")
    reasons = WearReasonShape(many=True)


class WearJudgedShape(shapes.Shape):
    """What the newest reading says."""

    state = shapes.ChoiceField(choices=STATES)
    severity = shapes.IntegerField(allow_null=True, help_text="1 to 5; null: it can't be told.")
    order_due = shapes.BooleanField(allow_null=True, help_text="Null: it can't be told.")
    look_again_days = shapes.IntegerField(allow_null=True)
    rise_db = shapes.FloatField(source="figures.rise_db", allow_null=True)
    rise_low_db = shapes.FloatField(source="figures.rise_low_db", allow_null=True)
    rise_high_db = shapes.FloatField(source="figures.rise_high_db", allow_null=True)
    step_key = shapes.TextField(source="figures.step_key", allow_null=True)
    step_meaning = shapes.TextField(source="figures.step_meaning", allow_null=True)
    baseline = WearBaselineShape(source="figures.baseline")
    trend = WearTrendShape(source="figures.trend")
    next_step = WearNextStepShape(source="figures.next_step")
    reasons = WearReasonShape(many=True)


class WearFrequenciesShape(shapes.Shape):
    """Where the rhythms of a damaged bearing lie at the newest reading's speed, Hz."""

    cage = WearFigureShape()
    outer_ring = WearFigureShape()
    inner_ring = WearFigureShape()
    element_spin = WearFigureShape()
    element_both = WearFigureShape(help_text="A damaged element strikes both rings.")


class WearHistoryShape(shapes.Shape):
    """A point's probe readings with baseline, limits, ladder and trend, as they stand now."""

    point_id = shapes.UuidField(source="point.id")
    readings = WearReadingShape(source="lines", many=True)
    judged = WearJudgedShape(source="found", allow_null=True)
    ladder = WearStepShape(many=True)
    frequencies = WearFrequenciesShape(allow_null=True)
    cautions = ProbeCautionsField()


class WearHistory(Door):
    """A point's probe readings with baseline, limits, ladder and trend, worked out anew at every look."""

    operation, room = "wear_history_read", "conditions"
    needs = {"GET": Right.VIEW}
    shape = WearHistoryShape

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer by what is known now."""
        point = self.one(plant.points(), self.kwargs["id"])
        return self.answer(queries.wear_history(point, self.at))
