"""The cautions that go with every answer on which somebody touches a machine."""

from __future__ import annotations

from typing import Any

from findings.kinds.base import Kind
from findings.kinds.cautions import cautions
from plantcare.api import shapes


class ProbeCautionShape(shapes.Shape):
    """What to tell the person with the probe or the grease gun, and the public rule it rests on."""

    key = shapes.TextField()
    text = shapes.TextField()
    basis = shapes.TextField()


class ProbeCautionsField(shapes.ListField):
    """The cautions of a turning machine, the most urgent first."""

    child = ProbeCautionShape()

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("help_text", "What to mind at a turning machine, local codes first.")
        super().__init__(**kwargs)

    def get_attribute(self, _: Any) -> Any:
        """Return the cautions, whatever the row."""
        return cautions(Kind.MECHANICAL_WEAR, None)


class WearReasonShape(shapes.Shape):
    """Why a judgement or a figure is what it is, or why there is none."""

    code = shapes.TextField()
    text = shapes.TextField()


class WearFigureShape(shapes.Shape):
    """A figure with its 95 % interval, or the reasons why there is none."""

    value = shapes.FloatField(allow_null=True)
    low = shapes.FloatField(allow_null=True)
    high = shapes.FloatField(allow_null=True)
    unit = shapes.TextField()
    status = shapes.TextField()
    reasons = WearReasonShape(many=True)


class VoidReasonInput(shapes.InputShape):
    """Why it never held."""

    reason = shapes.TextField(max_length=300)
