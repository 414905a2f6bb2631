"""The cautions that go with every answer about electrical equipment."""

from __future__ import annotations

from typing import Any

from findings.kinds.base import Kind
from findings.kinds.cautions import cautions
from plantcare.api import shapes


class PanelCautionShape(shapes.Shape):
    """What to tell the person who stands before it, and the public rule it rests on."""

    key = shapes.TextField()
    text = shapes.TextField()
    basis = shapes.TextField()


class PanelCautionsField(shapes.ListField):
    """The cautions of electrical equipment, the most urgent first."""

    child = PanelCautionShape()

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("help_text", "Doors stay closed; qualified people and local codes decide.")
        super().__init__(**kwargs)

    def get_attribute(self, _: Any) -> Any:
        """Return the cautions, whatever the row."""
        return cautions(Kind.ELECTRICAL_DISCHARGE, None)


class PanelVoidInput(shapes.InputShape):
    """Why it doesn't hold."""

    reason = shapes.TextField(max_length=300)
