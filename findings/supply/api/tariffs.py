"""Doors of time-of-use tables of electricity."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.kinds.local_hours import DAY_KINDS
from findings.kinds.tariff_reading import MOST_DAYS
from findings.plant.rules import Right
from findings.supply import actions, queries
from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, ListDoor

KINDS_OF_DAY = [(kind, kind) for kind in DAY_KINDS]


class TariffTableWindowShape(shapes.Shape):
    """Hours of the site's day."""

    start = shapes.TextField()
    end = shapes.TextField()


class TariffTableBandShape(shapes.Shape):
    """One price with the hours it holds in."""

    name = shapes.TextField()
    price_per_kwh = shapes.DecimalString(max_digits=24, decimal_places=10)
    months = shapes.ListField(child=shapes.IntegerField())
    days = shapes.ListField(child=shapes.ChoiceField(choices=KINDS_OF_DAY))
    windows = TariffTableWindowShape(many=True)


class TariffTableShape(shapes.Shape):
    """A time-of-use table in force from a moment until the next table or flat price."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    bands = TariffTableBandShape(many=True)
    holidays = shapes.ListField(child=shapes.DateField())
    currency = shapes.TextField()
    from_at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    source = shapes.TextField()  # type: ignore[assignment]
    void_at = shapes.AwareDateTimeField(allow_null=True)
    void_reason = shapes.TextField()


class TariffTableWindowInput(shapes.InputShape):
    """Hours of the site's day; write hours that pass midnight as two windows."""

    start = shapes.TextField(max_length=5, help_text="06:00")
    end = shapes.TextField(max_length=5, help_text="22:00; 24:00 ends a day.")


class TariffTableBandInput(shapes.InputShape):
    """One price; months and days left out mean all of them."""

    name = shapes.TextField(max_length=60)
    price_per_kwh = shapes.DecimalString(max_digits=24, decimal_places=10)
    months = shapes.ListField(
        child=shapes.IntegerField(min_value=1, max_value=12), min_length=1, max_length=12, required=False
    )
    days = shapes.ListField(
        child=shapes.ChoiceField(choices=KINDS_OF_DAY),
        min_length=1,
        max_length=len(DAY_KINDS),
        required=False,
        help_text="A listed holiday is no weekday.",
    )
    windows = TariffTableWindowInput(many=True)


class TariffTableInput(shapes.InputShape):
    """A new table: its bands cover every hour of every day exactly once."""

    site_id = shapes.UuidField()
    bands = TariffTableBandInput(many=True)
    holidays = shapes.ListField(child=shapes.DateField(), max_length=MOST_DAYS, required=False)
    currency = shapes.CurrencyField()
    from_at = shapes.AwareDateTimeField()
    source = shapes.TextField(max_length=300)  # type: ignore[assignment]


class TariffTableFilters(filtering.StrictFilterSet):
    """Filters of tables."""

    site_id = filtering.UuidFilter()
    void = filtering.BooleanFilter(field_name="void_at", lookup_expr="isnull", exclude=True)
    from_before = filtering.AwareDateTimeFilter(field_name="from_at", lookup_expr="lte")


class TariffTables(CreateDoor, ListDoor):
    """Time-of-use tables."""

    noun, room = "tariff_table", "supply"
    needs = {"GET": Right.VIEW, "POST": Right.PRICES}
    shape, input_shape, filterset_class = TariffTableShape, TariffTableInput, TariffTableFilters
    orderings = {"-from_at": ("-from_at",), "from_at": ("from_at",)}

    def rows(self) -> QuerySet[Any]:
        """Return all tables."""
        return queries.tariff_tables()

    def act(self, data: dict[str, Any]) -> Any:
        """Add the table."""
        bands = [{**band, "price_per_kwh": format(band["price_per_kwh"], "f")} for band in data.pop("bands")]
        return actions.set_tariff_table(actor=self.actor, at=self.at, bands=bands, **data)


class TariffTable(DetailDoor):
    """One time-of-use table."""

    noun, room = "tariff_table", "supply"
    needs = {"GET": Right.VIEW}
    shape = TariffTableShape

    def rows(self) -> QuerySet[Any]:
        """Return all tables."""
        return queries.tariff_tables()


class TariffTableVoidInput(shapes.InputShape):
    """Why the table never held."""

    reason = shapes.TextField(max_length=300)


class TariffTableVoid(ActDoor):
    """Say that a table never held."""

    operation, room = "tariff_table_void", "supply"
    needs = {"POST": Right.PRICES}
    shape, input_shape = TariffTableShape, TariffTableVoidInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all tables."""
        return queries.tariff_tables()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Void it."""
        return actions.void_tariff_table(actor=self.actor, at=self.at, table_id=obj.pk, **data)
