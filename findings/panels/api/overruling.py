"""The door by which an inspector judges anew what was judged of a panel."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.kinds.condition import ConditionSource
from findings.panels import actions, queries
from findings.panels.api.cautions import PanelCautionsField
from findings.plant.rules import Right
from findings.sound.discharge import Sound
from plantcare.api import shapes
from plantcare.api.views import ActDoor

SOUNDS = [(word.value, word.value) for word in Sound]
SOURCES = [(word.value, word.value) for word in ConditionSource]


class DischargeFigureShape(shapes.Shape):
    """One figure of a recording with its unit; "" is a plain number."""

    name = shapes.TextField()
    words = shapes.TextField()
    value = shapes.FloatField(allow_null=True)
    unit = shapes.TextField()


class DischargeChangeShape(shapes.Shape):
    """A figure that, moved alone across a limit, would have given another class."""

    figure = shapes.TextField()
    value = shapes.FloatField()
    limit = shapes.FloatField()
    sound = shapes.TextField()
    text = shapes.TextField()


class DischargeReasonShape(shapes.Shape):
    """Why a judgement is what it is, and how it may be wrong."""

    code = shapes.TextField()
    text = shapes.TextField()


class DischargeConditionShape(shapes.Shape):
    """What was judged of electrical equipment: a class of sound, never a diagnosis and never an all-clear."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    point_id = shapes.UuidField()
    reading_id = shapes.UuidField()
    judged_from = shapes.ChoiceField(choices=SOURCES, source="source")
    method = shapes.TextField()
    method_version = shapes.TextField()
    state = shapes.TextField()
    words = shapes.TextField(source="figures.label", help_text="The class, doubted where the voltage is low.")
    severity = shapes.IntegerField(allow_null=True, help_text="1 to 5; null: it can't be told.")
    order_due = shapes.BooleanField(allow_null=True, help_text="Null: it can't be told.")
    keeps_shut = shapes.BooleanField(help_text="Nothing is opened until a qualified person has released it.")
    look_again_days = shapes.IntegerField(allow_null=True)
    rule = shapes.TextField(source="figures.rule")
    why = shapes.TextField(source="figures.why")
    changes = DischargeChangeShape(source="figures.changes", many=True)
    features = DischargeFigureShape(source="figures.features", many=True)
    level_trend = shapes.TextField(source="figures.level_trend")
    level_rise_db = shapes.FloatField(source="figures.level_rise_db", allow_null=True)
    reasons = DischargeReasonShape(many=True)
    overrules_id = shapes.UuidField(allow_null=True)
    judged_by = shapes.TextField(allow_null=True)
    at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    cautions = PanelCautionsField()


class OverruleInput(shapes.InputShape):
    """The class in the inspector's judgement, and why."""

    sound = shapes.ChoiceField(choices=SOUNDS)
    reason = shapes.TextField(max_length=1000, help_text="Ten characters at least.")


class ConditionOverrule(ActDoor):
    """Put another class in the place of the one judged; both are kept, and what is shut stays shut."""

    operation, room = "condition_overrule", "panels"
    needs = {"POST": Right.ASSESS}
    shape, input_shape = DischargeConditionShape, OverruleInput
    if_match = "ignored"
    creates = True

    def rows(self) -> QuerySet[Any]:
        """Return what was judged of electrical equipment."""
        return queries.discharges()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Overrule it."""
        return actions.overrule(actor=self.actor, at=self.at, condition_id=obj.pk, **data)
