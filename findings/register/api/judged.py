"""How a judged condition is shown: briefly beside a reading or finding, or whole."""

from __future__ import annotations

from findings.kinds.base import Kind
from findings.kinds.condition import ConditionSource
from findings.register.api.costs import FigureReasonShape
from plantcare.api import shapes

KINDS = [(kind.value, kind.value) for kind in Kind]
SOURCES = [(source.value, source.value) for source in ConditionSource]


class BriefConditionShape(shapes.Shape):
    """What was judged of a bearing, a panel or a seal, and why."""

    id = shapes.UuidField()
    state = shapes.TextField(help_text="A word of the method.")
    severity = shapes.IntegerField(allow_null=True, help_text="1 to 5; null: it can't be told.")
    order_due = shapes.BooleanField(
        allow_null=True, help_text="Whether a work order is opened for it; null: it can't be told."
    )
    look_again_days = shapes.IntegerField(allow_null=True, help_text="The longest until the next look.")
    reasons = FigureReasonShape(many=True)


class ConditionShape(BriefConditionShape):
    """One judgement of one reading, with what it was made from."""

    site_id = shapes.UuidField()
    point_id = shapes.UuidField()
    reading_id = shapes.UuidField()
    kind = shapes.ChoiceField(choices=KINDS)
    source = shapes.ChoiceField(choices=SOURCES)  # type: ignore[assignment]
    method = shapes.TextField()
    method_version = shapes.TextField()
    opens_finding = shapes.BooleanField()
    keeps_shut = shapes.BooleanField()
    overrules_id = shapes.UuidField(allow_null=True)
    figures = shapes.JsonObjectField(help_text="For people; units stand in the names.")
    inputs = shapes.JsonObjectField(help_text="What computes the same once more.")
    at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
