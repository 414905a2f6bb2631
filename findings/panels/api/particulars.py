"""Doors of what is said of panels."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.panels import actions, queries
from findings.panels.api.cautions import PanelCautionsField, PanelVoidInput
from findings.panels.rules import HIGHEST_V, MAINS_HZ, Enclosure
from findings.plant import queries as plant
from findings.plant.rules import Right
from plantcare.api import filtering, shapes
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, ListDoor

ENCLOSURES = [(word.value, word.value) for word in Enclosure]
MAINS = [(hz, f"{hz} Hz") for hz in MAINS_HZ]


class PanelParticularsShape(shapes.Shape):
    """What holds of the enclosure at a measuring point from a moment on, until newer particulars do."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    point_id = shapes.UuidField()
    from_at = shapes.AwareDateTimeField()
    nominal_v = shapes.FloatField(allow_null=True, help_text="Nominal voltage, V.")
    mains_hz = shapes.ChoiceField(
        choices=MAINS, allow_null=True, help_text="Null: as usual at the site, 60 Hz with US units, else 50."
    )
    enclosure = shapes.ChoiceField(choices=ENCLOSURES)
    openings_to_scan = shapes.TextField(help_text="Seams, vents and windows to scan, all from outside.")
    approach_note = shapes.TextField(help_text="The site's own text about how near anybody may come.")
    recorded_at = shapes.AwareDateTimeField()
    recorded_by = shapes.TextField()
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()
    cautions = PanelCautionsField()


class PanelParticularsInput(shapes.InputShape):
    """What holds of a panel from a moment on."""

    point_id = shapes.UuidField()
    from_at = shapes.AwareDateTimeField()
    enclosure = shapes.ChoiceField(choices=ENCLOSURES)
    nominal_v = shapes.FloatField(
        required=False,
        allow_null=True,
        min_value=0.001,
        max_value=HIGHEST_V,
        help_text="Nominal voltage, V; corona isn't expected below about 1 kV.",
    )
    mains_hz = shapes.ChoiceField(choices=MAINS, required=False, allow_null=True)
    openings_to_scan = shapes.TextField(max_length=500, required=False, allow_blank=True)
    approach_note = shapes.TextField(max_length=500, required=False, allow_blank=True)


class PanelParticularsFilters(filtering.StrictFilterSet):
    """Narrow the particulars."""

    site_id = filtering.UuidFilter()
    point_id = filtering.UuidFilter()
    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)


class PanelParticulars(CreateDoor, ListDoor):
    """What is said of panels: list, and state something from a moment on."""

    noun, room = "panel_particulars", "panels"
    needs = {"GET": Right.VIEW, "POST": Right.REGISTER}
    shape, input_shape, filterset_class = (
        PanelParticularsShape,
        PanelParticularsInput,
        PanelParticularsFilters,
    )
    orderings = {"-from_at": ("-from_at",), "from_at": ("from_at",)}
    references = {"point_id": Reference(plant.points)}
    detail_route = "one-panel-particulars"

    def rows(self) -> QuerySet[Any]:
        """Return all particulars."""
        return queries.particulars()

    def act(self, data: dict[str, Any]) -> Any:
        """State them."""
        return actions.add_particulars(actor=self.actor, at=self.at, **data)


class OnePanelParticulars(DetailDoor):
    """The particulars of one panel from one moment on."""

    noun, room = "panel_particulars", "panels"
    needs = {"GET": Right.VIEW}
    shape = PanelParticularsShape

    def rows(self) -> QuerySet[Any]:
        """Return all particulars."""
        return queries.particulars()


class PanelParticularsVoid(ActDoor):
    """Say that particulars never held."""

    operation, room = "panel_particulars_void", "panels"
    needs = {"POST": Right.REGISTER}
    shape, input_shape = PanelParticularsShape, PanelVoidInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all particulars."""
        return queries.particulars()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void them."""
        return actions.void_particulars(actor=self.actor, at=self.at, particulars_id=obj.pk, **data)
