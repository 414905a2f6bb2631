"""What the register's doors answer."""

from __future__ import annotations

from typing import Any

from findings.kinds.base import Hazard, Kind, Medium
from findings.register.api.costs import CostShape, FigureReasonShape
from findings.register.api.release import ReleaseShape
from findings.register.queries import mass_flow_kg_per_s
from findings.register.rules import (
    EvidenceRole,
    FindingStatus,
    allowed_changes,
    cautions_of,
)
from plantcare.api import shapes

KINDS = [(kind.value, kind.value) for kind in Kind]
MEDIA = [(medium.value, medium.value) for medium in Medium]
HAZARDS = [(hazard.value, hazard.value) for hazard in Hazard]
STATUSES = [(status.value, status.value) for status in FindingStatus]
ROLES = [(role.value, role.value) for role in EvidenceRole]


class AssessmentShape(shapes.Shape):
    """What was computed from which inputs by which version of which method."""

    id = shapes.UuidField()
    finding_id = shapes.UuidField()
    reading_id = shapes.UuidField(allow_null=True)
    method = shapes.TextField()
    method_version = shapes.TextField()
    status = shapes.TextField()
    leak_rate_m3_per_s = shapes.FloatField(allow_null=True)
    u_m3_per_s = shapes.FloatField(allow_null=True)
    low_m3_per_s = shapes.FloatField(allow_null=True)
    high_m3_per_s = shapes.FloatField(allow_null=True)
    inputs = shapes.JsonObjectField()
    reasons = FigureReasonShape(many=True)
    at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()


class MassFlowField(shapes.FloatField):
    """A finding's rate as mass in kg/s: steam's true figure, a gas's by its density; null without data."""

    def __init__(self, *, rate: str, **kwargs: Any) -> None:
        super().__init__(**{"source": "*", "allow_null": True, **kwargs})
        self.rate = rate

    def get_attribute(self, instance: Any) -> Any:
        """Return the mass flow behind one of the finding's rates."""
        return mass_flow_kg_per_s(instance, getattr(instance, self.rate))


class FindingShape(shapes.Shape):
    """A fault at a measuring point. Rates are m3/s at 1 bar, 20 °C, dry; steam's only for the books.

    A leak of fuel gas, oxygen or an inert gas has its release before its cost, and never a cost without it.
    """

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    number = shapes.IntegerField()
    asset_id = shapes.UuidField()
    asset_code = shapes.TextField(source="asset.code")
    asset_name = shapes.TextField(source="asset.name")
    area_id = shapes.UuidField(source="asset.area_id")
    point_id = shapes.UuidField()
    point_code = shapes.TextField(source="point.code")
    kind = shapes.ChoiceField(choices=KINDS)
    medium = shapes.ChoiceField(choices=MEDIA, allow_blank=True, help_text="Empty while nobody knows it.")
    system_id = shapes.UuidField(allow_null=True)
    hazard = shapes.ChoiceField(choices=HAZARDS)
    is_safety = shapes.BooleanField()
    status = shapes.ChoiceField(choices=STATUSES)
    severity = shapes.IntegerField(allow_null=True, help_text="As the inspector judged it, 1 to 5.")
    condition_severity = shapes.IntegerField(allow_null=True, help_text="As it was computed, 1 to 5.")
    condition_id = shapes.UuidField(allow_null=True)
    level_db = shapes.FloatField(allow_null=True)
    leak_rate_m3_per_s = shapes.FloatField(allow_null=True)
    leak_rate_low_m3_per_s = shapes.FloatField(allow_null=True)
    leak_rate_high_m3_per_s = shapes.FloatField(allow_null=True)
    leak_rate_status = shapes.TextField(
        help_text="indicative: an order of magnitude, not calibrated; there are low and high only."
    )
    mass_flow_kg_per_s = MassFlowField(rate="leak_rate_m3_per_s")
    mass_flow_low_kg_per_s = MassFlowField(rate="leak_rate_low_m3_per_s")
    mass_flow_high_kg_per_s = MassFlowField(rate="leak_rate_high_m3_per_s")
    release = ReleaseShape()
    cost = CostShape()
    found_at = shapes.AwareDateTimeField()
    last_heard_at = shapes.AwareDateTimeField()
    repaired_at = shapes.AwareDateTimeField(allow_null=True)
    closed_at = shapes.AwareDateTimeField(allow_null=True)
    reopened_count = shapes.IntegerField()
    version = shapes.IntegerField()

    def get_fields(self) -> dict[str, Any]:
        """Return the members asked for; who asks for the cost gets the release before it."""
        fields = super().get_fields()
        if "cost" not in fields or "release" in fields:
            return fields
        return {"release": ReleaseShape(), **fields}


class FindingCautionShape(shapes.Shape):
    """What to tell the person who stands before it, and the public rule it rests on."""

    key = shapes.TextField()
    text = shapes.TextField()
    basis = shapes.TextField()


class CautionsField(shapes.ListField):
    """The cautions of a finding, the most urgent first."""

    child = FindingCautionShape()

    def get_attribute(self, instance: Any) -> Any:
        """Return the cautions that its kind and medium carry."""
        return cautions_of(Kind(instance.kind), Medium(instance.medium) if instance.medium else None)


class MovesField(shapes.ListField):
    """The changes that the finding's status allows, whoever makes them."""

    child = shapes.TextField()

    def get_attribute(self, instance: Any) -> Any:
        """Return the names of the moves."""
        return [change.move.value for change in allowed_changes(FindingStatus(instance.status))]


class ShownAssessment(AssessmentShape):
    """The assessment that the rate rests on, else the last one that was made."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"source": "*", "allow_null": True, **kwargs})

    def to_representation(self, instance: Any) -> Any:
        """Return the assessment that the door has looked up."""
        shown = self.context["assessments"].get(instance.pk)
        return None if shown is None else super().to_representation(shown)


class FindingDetailShape(FindingShape):
    """A finding with what it rests on and what to beware of."""

    gas_name = shapes.TextField(source="system.gas_name", default="")
    closing_reading_id = shapes.UuidField(allow_null=True)
    closure_reason = shapes.TextField()
    closure_text = shapes.TextField()
    dismiss_reason = shapes.TextField()
    merged_into_id = shapes.UuidField(allow_null=True)
    follows_id = shapes.UuidField(allow_null=True)
    created_at = shapes.AwareDateTimeField()
    assessment = ShownAssessment()
    cautions = CautionsField()
    moves = MovesField()

    def get_fields(self) -> dict[str, Any]:
        """Return the members asked for, the cost behind release and cautions."""
        fields = super().get_fields()
        return {name: fields[name] for name in sorted(fields, key=lambda name: name == "cost")}


class SegmentShape(shapes.Shape):
    """A stretch of time at one leak rate; a superseded one is shown with why."""

    id = shapes.UuidField()
    system_id = shapes.UuidField()
    started_at = shapes.AwareDateTimeField()
    ended_at = shapes.AwareDateTimeField(allow_null=True)
    start_reason = shapes.TextField()
    end_reason = shapes.TextField()
    end_confirmed_at = shapes.AwareDateTimeField(allow_null=True)
    leak_rate_m3_per_s = shapes.FloatField()
    low_m3_per_s = shapes.FloatField(allow_null=True)
    high_m3_per_s = shapes.FloatField(allow_null=True)
    method = shapes.TextField()
    method_version = shapes.TextField()
    assessment_id = shapes.UuidField(allow_null=True)
    recorded_at = shapes.AwareDateTimeField()
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class ReadingShape(shapes.Shape):
    """What the detector said, as it was said."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    survey_id = shapes.UuidField()
    point_id = shapes.UuidField()
    instrument_id = shapes.UuidField(allow_null=True)
    client_id = shapes.TextField()
    taken_at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    kind = shapes.ChoiceField(choices=KINDS, allow_blank=True, help_text="Empty where it was quiet.")
    medium = shapes.ChoiceField(choices=MEDIA, allow_blank=True)
    level_db = shapes.FloatField(allow_null=True)
    background_db = shapes.FloatField(allow_null=True)
    distance_m = shapes.FloatField(allow_null=True)
    pressure_gauge_pa = shapes.FloatField(allow_null=True)
    temperature_k = shapes.FloatField(allow_null=True)
    hole_diameter_m = shapes.FloatField(allow_null=True)
    edge = shapes.TextField()
    flow_m3_per_s = shapes.FloatField(allow_null=True)
    flow_u_m3_per_s = shapes.FloatField(allow_null=True)
    flow_method = shapes.TextField()
    severity = shapes.IntegerField(allow_null=True)
    pattern = shapes.TextField()
    note = shapes.TextField()
    attachment = shapes.TextField()
    leak_family = shapes.TextField()
    air_temperature_k = shapes.FloatField(allow_null=True)
    relative_humidity = shapes.FloatField(allow_null=True)
    band_centre_hz = shapes.FloatField(allow_null=True)
    probe = shapes.TextField()
    shaft_speed_hz = shapes.FloatField(allow_null=True)
    load_share = shapes.FloatField(allow_null=True)
    greasing = shapes.TextField()
    warnings = FigureReasonShape(many=True)
    as_sent = shapes.JsonObjectField()
    corrects_id = shapes.UuidField(allow_null=True)


class EvidenceShape(shapes.Shape):
    """A reading and what it does for the finding."""

    id = shapes.UuidField()
    role = shapes.ChoiceField(choices=ROLES)
    recorded_at = shapes.AwareDateTimeField()
    reading = ReadingShape()


class ActShape(shapes.Shape):
    """What was done to the finding, when, by whom and why."""

    id = shapes.UuidField()
    sequence = shapes.IntegerField()
    act = shapes.TextField()
    at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    actor_name = shapes.TextField()
    reason = shapes.TextField()
    subject_version = shapes.IntegerField(allow_null=True)
    detail = shapes.JsonObjectField()
