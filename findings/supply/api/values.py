"""Doors of dated prices and factors."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.plant.rules import Right
from findings.supply import actions, queries
from findings.supply.rules import Quantity
from plantcare.api import filtering, shapes
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, ListDoor

QUANTITIES = [(q.value, q.value) for q in Quantity]


class ValueShape(shapes.Shape):
    """A price or factor in force from a moment until the next one."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    system_id = shapes.UuidField(allow_null=True)
    quantity = shapes.ChoiceField(choices=QUANTITIES)
    value = shapes.DecimalString(max_digits=24, decimal_places=10)
    currency = shapes.TextField()
    from_at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    source = shapes.TextField()  # type: ignore[assignment]
    source_year = shapes.IntegerField(allow_null=True)
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class ValueInput(shapes.InputShape):
    """A new value, with its source; a price in the site's currency.

    A vacuum system's specific energy is J per m3 of pump inlet volume, at the system's pressure and
    temperature; every other one J per m3 at 1 bar, 20 °C. Steam is priced per kg only.
    """

    site_id = shapes.UuidField()
    system_id = shapes.UuidField(required=False, allow_null=True)
    quantity = shapes.ChoiceField(choices=QUANTITIES)
    value = shapes.DecimalString(max_digits=24, decimal_places=10)
    currency = shapes.CurrencyField(required=False)
    from_at = shapes.AwareDateTimeField()
    source = shapes.TextField(max_length=300)  # type: ignore[assignment]
    source_year = shapes.IntegerField(min_value=1900, max_value=2199, required=False, allow_null=True)


class ValueFilters(filtering.StrictFilterSet):
    """Filters of dated values."""

    site_id = filtering.UuidFilter()
    system_id = filtering.UuidFilter()
    quantity = filtering.ChoicesFilter(choices=QUANTITIES)
    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)
    from_before = filtering.AwareDateTimeFilter(field_name="from_at", lookup_expr="lte")


class DatedValues(CreateDoor, ListDoor):
    """Prices and factors."""

    noun, room = "dated_value", "supply"
    needs = {"GET": Right.VIEW, "POST": Right.PRICES}
    shape, input_shape, filterset_class = ValueShape, ValueInput, ValueFilters
    orderings = {"-from_at": ("-from_at",), "from_at": ("from_at",)}
    references = {"system_id": Reference(queries.systems)}

    def rows(self) -> QuerySet[Any]:
        """Return all dated values."""
        return queries.dated_values()

    def act(self, data: dict[str, Any]) -> Any:
        """Add the value."""
        return actions.set_value(actor=self.actor, at=self.at, **data)


class DatedValue(DetailDoor):
    """One price or factor."""

    noun, room = "dated_value", "supply"
    needs = {"GET": Right.VIEW}
    shape = ValueShape

    def rows(self) -> QuerySet[Any]:
        """Return all dated values."""
        return queries.dated_values()


class DatedValueVoidInput(shapes.InputShape):
    """Why the value never held."""

    reason = shapes.TextField(max_length=300)


class DatedValueVoid(ActDoor):
    """Say that a value never held."""

    operation, room = "dated_value_void", "supply"
    needs = {"POST": Right.PRICES}
    shape, input_shape = ValueShape, DatedValueVoidInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all dated values."""
        return queries.dated_values()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void it."""
        return actions.void_value(actor=self.actor, at=self.at, value_id=obj.pk, **data)
