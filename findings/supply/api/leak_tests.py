"""Doors of leak tests: the whole leakage of a supply system, measured while nothing is produced."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.plant.rules import Right
from findings.supply import actions, queries
from findings.supply.rules import LeakTestMethod
from plantcare.api import filtering, shapes
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, ListDoor

METHODS = [(m.value, m.value) for m in LeakTestMethod]
MOST_CYCLES = 200
KEPT = frozenset({"method", "taken_at", "pressure_gauge_pa", "compressor_id", "source", "note"})


class LeakTestReasonShape(shapes.Shape):
    """What to know of the flow."""

    code = shapes.TextField()
    text = shapes.TextField()


class LeakTestShape(shapes.Shape):
    """The whole leak flow at 1 bar, 20 °C, dry, with its 95 % interval, and what was sent for it."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    system_id = shapes.UuidField()
    compressor_id = shapes.UuidField(allow_null=True)
    method = shapes.ChoiceField(choices=METHODS)
    method_version = shapes.TextField()
    taken_at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    pressure_gauge_pa = shapes.FloatField(help_text="The header's during the test; a decay's at its start.")
    flow_m3_per_s = shapes.FloatField()
    u_m3_per_s = shapes.FloatField()
    low_m3_per_s = shapes.FloatField()
    high_m3_per_s = shapes.FloatField()
    as_sent = shapes.JsonObjectField()
    inputs = shapes.JsonObjectField()
    reasons = LeakTestReasonShape(many=True)
    source = shapes.TextField()  # type: ignore[assignment]
    note = shapes.TextField()
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


def _positive(**more: Any) -> shapes.FloatField:
    return shapes.FloatField(min_value=0, required=False, **more)


class LeakTestInput(shapes.InputShape):
    """A test: what was timed, metered or read on the gauge, by its method.

    load_unload takes load_s and unload_s of whole cycles and the machine that was timed (or its capacity);
    base_flow the metered flow; pressure_decay the pressures, the duration and the volume that was shut in.
    """

    method = shapes.ChoiceField(choices=METHODS)
    taken_at = shapes.AwareDateTimeField()
    pressure_gauge_pa = shapes.FloatField(required=False, help_text="Without it the header's is taken.")
    compressor_id = shapes.UuidField(required=False, allow_null=True)
    load_s = shapes.ListField(child=shapes.FloatField(min_value=0), max_length=MOST_CYCLES, required=False)
    unload_s = shapes.ListField(child=shapes.FloatField(min_value=0), max_length=MOST_CYCLES, required=False)
    time_u_s = _positive(help_text="Of one time; 1 s where it isn't sent.")
    capacity_m3_per_s = _positive(help_text="At 1 bar, 20 °C, dry; else that of the machine.")
    capacity_u_m3_per_s = _positive()
    flow_m3_per_s = _positive(help_text="Metered, at 1 bar, 20 °C, dry.")
    flow_u_m3_per_s = _positive()
    volume_m3 = _positive(help_text="Shut in during the decay; else the system's storage.")
    volume_u_m3 = _positive()
    start_pressure_gauge_pa = shapes.FloatField(required=False)
    end_pressure_gauge_pa = shapes.FloatField(required=False)
    pressure_u_pa = _positive()
    duration_s = _positive()
    duration_u_s = _positive()
    source = shapes.TextField(max_length=300)  # type: ignore[assignment]
    note = shapes.TextField(max_length=2_000, required=False, allow_blank=True)


class LeakTestFilters(filtering.StrictFilterSet):
    """Filters of leak tests."""

    method = filtering.ChoicesFilter(choices=METHODS)
    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)
    taken_from = filtering.AwareDateTimeFilter(field_name="taken_at", lookup_expr="gte")
    taken_to = filtering.AwareDateTimeFilter(field_name="taken_at", lookup_expr="lt")


class LeakTests(CreateDoor, ListDoor):
    """The leak tests of a supply system."""

    noun, room = "leak_test", "supply"
    needs = {"GET": Right.VIEW, "POST": Right.RECORD}
    shape, input_shape, filterset_class = LeakTestShape, LeakTestInput, LeakTestFilters
    orderings = {"-taken_at": ("-taken_at", "-recorded_at"), "taken_at": ("taken_at", "recorded_at")}
    references = {"compressor_id": Reference(queries.compressors)}
    detail_route = "leak-test"

    def rows(self) -> QuerySet[Any]:
        """Return the tests of the system that the path names. Raises NotFound."""
        return queries.leak_tests().filter(system_id=self.system_id())

    def system_id(self) -> Any:
        """Return the id of the system, which the caller has to be allowed to see. Raises NotFound."""
        return self.one(queries.systems(), self.kwargs["id"]).pk

    def clear(self, data: Any) -> dict[str, Any]:
        """Check the system of the path before the ids of the body."""
        self.system_id()
        return super().clear(data)

    def act(self, data: dict[str, Any]) -> Any:
        """Record the test."""
        return actions.record_leak_test(
            actor=self.actor,
            at=self.at,
            system_id=self.kwargs["id"],
            sent={name: value for name, value in data.items() if name not in KEPT},
            **{name: value for name, value in data.items() if name in KEPT},
        )


class LeakTest(DetailDoor):
    """One leak test."""

    noun, room = "leak_test", "supply"
    needs = {"GET": Right.VIEW}
    shape = LeakTestShape

    def rows(self) -> QuerySet[Any]:
        """Return all leak tests."""
        return queries.leak_tests()


class LeakTestVoidInput(shapes.InputShape):
    """Why the test never counted."""

    reason = shapes.TextField(max_length=300)


class LeakTestVoid(ActDoor):
    """Say that a leak test never counted."""

    operation, room = "leak_test_void", "supply"
    needs = {"POST": Right.ASSESS}
    shape, input_shape = LeakTestShape, LeakTestVoidInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all leak tests."""
        return queries.leak_tests()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void it."""
        return actions.void_leak_test(actor=self.actor, at=self.at, test_id=obj.pk, **data)
