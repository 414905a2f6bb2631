"""Doors of readings: the register takes them, because a reading means something at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from rest_framework.response import Response

from findings.physics.level_form import LeakFamily
from findings.readings import queries
from findings.readings.rules import Attachment, DirectMethod, Edge, Greasing, NewReading
from findings.register import actions
from findings.register.api.shapes import KINDS, MEDIA, STATUSES, ReadingShape
from findings.surveys import queries as surveys
from plantcare.api import filtering, shapes
from plantcare.api.problems import Refusal
from plantcare.api.references import Reference
from plantcare.api.views import CreateDoor, DetailDoor, Door, ListDoor

OUTCOMES = [
    (name, name)
    for name in ("found", "heard_again", "after_repair", "reopened", "quiet", "corrected", "known")
]
ATTACHMENTS = [(attachment.value, attachment.value) for attachment in Attachment]
FLOW_METHODS = [(method.value, method.value) for method in DirectMethod]


class ReadingItemInput(shapes.InputShape):
    """A reading in SI units, gauge pressure, flow at 1 bar and 20 °C dry."""

    client_id = shapes.TextField(max_length=100, help_text="The sender's own key, for ever.")
    point_id = shapes.UuidField()
    taken_at = shapes.AwareDateTimeField()
    kind = shapes.ChoiceField(choices=KINDS, allow_blank=True, default="", help_text="Empty: it was quiet.")
    medium = shapes.ChoiceField(choices=MEDIA, allow_blank=True, default="")
    instrument_id = shapes.UuidField(required=False, allow_null=True)
    level_db = shapes.FloatField(required=False, allow_null=True)
    background_db = shapes.FloatField(required=False, allow_null=True)
    distance_m = shapes.FloatField(required=False, allow_null=True)
    pressure_gauge_pa = shapes.FloatField(required=False, allow_null=True)
    temperature_k = shapes.FloatField(required=False, allow_null=True)
    hole_diameter_m = shapes.FloatField(required=False, allow_null=True)
    edge = shapes.ChoiceField(choices=[(e.value, e.value) for e in Edge], allow_blank=True, default="")
    flow_m3_per_s = shapes.FloatField(required=False, allow_null=True)
    flow_u_m3_per_s = shapes.FloatField(required=False, allow_null=True)
    flow_method = shapes.ChoiceField(choices=FLOW_METHODS, allow_blank=True, default="")
    severity = shapes.IntegerField(min_value=1, max_value=5, required=False, allow_null=True)
    pattern = shapes.TextField(max_length=24, allow_blank=True, default="")
    note = shapes.TextField(allow_blank=True, default="")
    attachment = shapes.ChoiceField(
        choices=ATTACHMENTS,
        allow_blank=True,
        default="",
        help_text="What sat on the detector.",
    )
    leak_family = shapes.ChoiceField(
        choices=[(f.value, f.value) for f in LeakFamily],
        allow_blank=True,
        default="",
        help_text="The form of the opening.",
    )
    air_temperature_k = shapes.FloatField(
        required=False, allow_null=True, help_text="The hall's air; temperature_k is the gas before the leak."
    )
    relative_humidity = shapes.FloatField(
        required=False, allow_null=True, help_text="Of the hall's air, 0 to 1."
    )
    band_centre_hz = shapes.FloatField(
        required=False, allow_null=True, help_text="The middle of the detector's band."
    )
    probe = shapes.TextField(
        max_length=60, allow_blank=True, default="", help_text="Which tip touched: levels compare by it."
    )
    shaft_speed_hz = shapes.FloatField(
        required=False, allow_null=True, help_text="Turns of the shaft in a second while it was read."
    )
    load_share = shapes.FloatField(required=False, allow_null=True, help_text="Of the rated load, 0 to 1.5.")
    greasing = shapes.ChoiceField(
        choices=[(g.value, g.value) for g in Greasing],
        allow_blank=True,
        default="",
        help_text="Whether this level was read before, during or after greasing.",
    )
    as_sent = shapes.JsonObjectField(required=False)
    corrects_id = shapes.UuidField(required=False, allow_null=True)


class ReadingInput(ReadingItemInput):
    """A reading of a survey."""

    survey_id = shapes.UuidField()


class ReadingBatchInput(shapes.InputShape):
    """Up to 500 readings of one survey."""

    survey_id = shapes.UuidField()
    all_or_nothing = shapes.BooleanField(default=False)
    items = ReadingItemInput(many=True)


class BatchHead(shapes.InputShape):
    """What a batch says beside its items."""

    survey_id = shapes.UuidField()


class BriefFindingShape(shapes.Shape):
    """The finding a reading speaks for."""

    id = shapes.UuidField()
    number = shapes.IntegerField()
    status = shapes.ChoiceField(choices=STATUSES)
    is_safety = shapes.BooleanField()
    version = shapes.IntegerField()


class TakenShape(shapes.Shape):
    """What became of a reading."""

    created = shapes.BooleanField()
    outcome = shapes.ChoiceField(choices=OUTCOMES)
    reading = ReadingShape()
    finding = BriefFindingShape(allow_null=True)


class ReadingBatchItemShape(shapes.Shape):
    """What became of one item: a reading and its outcome, or a problem document."""

    index = shapes.IntegerField()
    status = shapes.IntegerField()
    id = shapes.UuidField(allow_null=True)
    outcome = shapes.ChoiceField(choices=OUTCOMES, allow_null=True)
    finding_id = shapes.UuidField(allow_null=True)
    problem = shapes.JsonObjectField(allow_null=True)


class ReadingBatchShape(shapes.Shape):
    """What became of each item, in the order they were sent."""

    results = ReadingBatchItemShape(many=True)


class ReadingFilters(filtering.StrictFilterSet):
    """Narrow the list of readings."""

    site_id = filtering.UuidFilter()
    survey_id = filtering.UuidFilter()
    point_id = filtering.UuidFilter()
    asset_id = filtering.UuidFilter(field_name="point__asset_id")
    kind = filtering.ChoicesFilter(choices=KINDS)
    client_id = filtering.CodeFilter()
    taken_from = filtering.AwareDateTimeFilter(field_name="taken_at", lookup_expr="gte")
    taken_to = filtering.AwareDateTimeFilter(field_name="taken_at", lookup_expr="lt")


class Readings(CreateDoor, ListDoor):
    """Readings: list, and send one. The same client_id sent again is the same reading."""

    noun, room = "reading", "register"
    needs = {"GET": "view", "POST": "record"}
    shape, input_shape, filterset_class = ReadingShape, ReadingInput, ReadingFilters
    orderings = {"-taken_at": ("-taken_at",), "taken_at": ("taken_at",)}
    references = {"survey_id": Reference(surveys.surveys)}
    replayable = False  # client_id does what the key would do, and for ever

    def rows(self) -> QuerySet[Any]:
        """Return all readings."""
        return queries.readings()

    def post(self, *_: Any, **__: Any) -> Response:
        """Take one reading: 201 when it is new, 200 when it was known."""
        data = self.take()
        self.clear(data)
        survey_id = data.pop("survey_id")
        taken = actions.take_reading(
            actor=self.actor, at=self.at, survey_id=survey_id, item=NewReading(**data)
        )
        response = self.answer(taken, shape=TakenShape, status=201 if taken.created else 200)
        response.headers["Location"] = f"{self.request.path.rstrip('/')}/{taken.reading.pk}"
        return response


class Reading(DetailDoor):
    """One reading."""

    noun, room = "reading", "register"
    needs = {"GET": "view"}
    shape = ReadingShape

    def rows(self) -> QuerySet[Any]:
        """Return all readings."""
        return queries.readings()


class ReadingBatches(Door):
    """Send up to 500 readings of a survey in one transaction, each with its own result.

    One bad item doesn't sink the others; with all_or_nothing any bad item refuses the batch with 422.
    """

    operation, room = "reading_batch", "register"
    needs = {"POST": "record"}
    shape, input_shape = ReadingBatchShape, ReadingBatchInput
    references = {"survey_id": Reference(surveys.surveys)}
    replayable = False

    def post(self, *_: Any, **__: Any) -> Response:
        """Take the items."""
        items, all_or_nothing, survey_id = self._body()
        results: dict[int, dict[str, Any]] = {}
        fit: dict[int, NewReading] = {}
        for index, item in enumerate(items):
            try:
                fit[index] = NewReading(**shapes.validated(ReadingItemInput, item))
            except Refusal as refusal:
                results[index] = self._refused(index, refusal)
        shapes.refuse_batch_if(all_or_nothing, list(results.values()))
        taken = actions.take_readings(
            actor=self.actor,
            at=self.at,
            survey_id=survey_id,
            items=list(fit.values()),
            all_or_nothing=all_or_nothing,
        )
        for index, one in zip(fit, taken, strict=True):
            results[index] = self._result(index, one)
        return self.answer({"results": [results[index] for index in sorted(results)]})

    def _body(self) -> tuple[list[Any], bool, Any]:
        """Return the items, whether it is all or nothing, and the survey; check the right on its site."""
        body = self.request.data if isinstance(self.request.data, Mapping) else {}
        head = shapes.validated(BatchHead, {n: v for n, v in body.items() if n == "survey_id"})
        rest = {name: value for name, value in body.items() if name != "survey_id"}
        items, all_or_nothing = shapes.batch_of(rest, actions.MOST_AT_ONCE)
        self.clear(head)
        return items, all_or_nothing, head["survey_id"]

    def _result(self, index: int, one: actions.Taken | Refusal) -> dict[str, Any]:
        if isinstance(one, Refusal):
            return self._refused(index, one)
        return {
            "index": index,
            "status": 201 if one.created else 200,
            "id": one.reading.pk,
            "outcome": one.outcome,
            "finding_id": None if one.finding is None else one.finding.pk,
            "problem": None,
        }

    def _refused(self, index: int, refusal: Refusal) -> dict[str, Any]:
        return {
            "index": index,
            "status": refusal.status,
            "id": None,
            "outcome": None,
            "finding_id": None,
            "problem": refusal.body(self.request.path),
        }
