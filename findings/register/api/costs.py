"""How the two figures of a finding are answered, with the prices and factors they stand on."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from findings.kinds.tariff import Part
from findings.physics.emissions import Factor
from findings.register.rules import CostNow, DemandCost, FindingCost
from findings.supply.rules import MONEY, InForce, Quantity
from plantcare.api import shapes

_HOURS, _SHARE = Decimal("0.0001"), Decimal("0.000001")
_PER_HOUR, _PER_YEAR, _KILOGRAMS = Decimal("0.0001"), Decimal("0.01"), Decimal("0.0001")
PRICES = [
    (quantity.value, quantity.value) for quantity in sorted(MONEY - {Quantity.DEMAND_CHARGE_PER_KW_MONTH})
]


class FigureReasonShape(shapes.Shape):
    """Why a figure is as it is, or why there is none."""

    code = shapes.TextField()
    text = shapes.TextField()


class FigureShape(shapes.Shape):
    """Money and emission per hour and per year of the calendar; null with its reasons, never zero.

    The interval is told where one finding is asked for, not in lists.
    """

    per_hour = shapes.DecimalString(max_digits=24, decimal_places=4, allow_null=True)
    per_year = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    low_per_year = shapes.DecimalString(
        max_digits=24, decimal_places=2, allow_null=True, help_text="95 % interval, prices taken as known."
    )
    high_per_year = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    co2e_kg_per_hour = shapes.DecimalString(max_digits=24, decimal_places=4, allow_null=True)
    co2e_kg_per_year = shapes.DecimalString(max_digits=24, decimal_places=4, allow_null=True)
    reasons = FigureReasonShape(many=True)


class PricePartShape(shapes.Shape):
    """A price of a time-of-use table with its hours of the coming year."""

    name = shapes.TextField()
    price_per_kwh = shapes.DecimalString(max_digits=24, decimal_places=10)
    hours = shapes.DecimalString(max_digits=12, decimal_places=4)
    share = shapes.DecimalString(max_digits=8, decimal_places=6)


class PriceInForceShape(shapes.Shape):
    """A price that the figures stand on: since when it holds, and where it comes from.

    A time-of-use table counts with the mean of the coming year at constant power; ``parts`` are its prices.
    """

    quantity = shapes.ChoiceField(choices=PRICES)
    value = shapes.DecimalString(max_digits=24, decimal_places=10)
    currency = shapes.TextField()
    from_at = shapes.AwareDateTimeField()
    source = shapes.TextField()  # type: ignore[assignment]
    parts = PricePartShape(many=True)


class DemandChargeShape(shapes.Shape):
    """What the loss adds to the demand charge of a month it runs through; beside the cost, never in it."""

    charge_per_kw_month = shapes.DecimalString(max_digits=24, decimal_places=10)
    full_load_per_month = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    expected_per_month = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    from_at = shapes.AwareDateTimeField()
    source = shapes.TextField()  # type: ignore[assignment]


class EmissionFactorShape(shapes.Shape):
    """A factor that the CO2e stands on."""

    value = shapes.DecimalString(max_digits=24, decimal_places=10)
    unit = shapes.TextField()
    source = shapes.TextField()  # type: ignore[assignment]
    year = shapes.IntegerField()


class CostShape(shapes.Shape):
    """What a finding costs now, as two figures that are never mixed.

    ``full_load`` is what its air or gas is worth: rate, average specific energy and price. ``expected`` is
    what a repair is expected to save: only the machine that trims answers, by its part load.
    """

    currency = shapes.CurrencyField()
    full_load = FigureShape()
    expected = FigureShape()
    prices = PriceInForceShape(many=True)
    demand_charge = DemandChargeShape(allow_null=True)
    co2e_factors = EmissionFactorShape(many=True)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"source": "*", **kwargs})

    def to_representation(self, instance: Any) -> dict[str, Any]:
        """Return the figures, rounded here and nowhere before."""
        cost: FindingCost = self.context["costs"][instance.pk]
        return {
            "currency": instance.site.currency,
            "full_load": _figure(cost.full_load),
            "expected": _figure(cost.expected),
            "prices": [_price(one) for one in cost.prices],
            "demand_charge": None if cost.demand is None else _demand(cost.demand),
            "co2e_factors": [_factor(one) for one in cost.factors],
        }


def _figure(cost: CostNow) -> dict[str, Any]:
    return {
        "per_hour": _rounded(cost.per_hour, _PER_HOUR),
        "per_year": _rounded(cost.per_year, _PER_YEAR),
        "low_per_year": _rounded(cost.low_per_year, _PER_YEAR),
        "high_per_year": _rounded(cost.high_per_year, _PER_YEAR),
        "co2e_kg_per_hour": _rounded(cost.co2e_kg_per_hour, _KILOGRAMS),
        "co2e_kg_per_year": _rounded(cost.co2e_kg_per_year, _KILOGRAMS),
        "reasons": [reason._asdict() for reason in cost.reasons],
    }


def _price(one: InForce) -> dict[str, Any]:
    return {
        "quantity": one.quantity.value,
        "value": format(one.value, "f"),
        "currency": one.currency,
        "from_at": one.from_at,
        "source": one.source,
        "parts": [_part(part) for part in one.parts],
    }


def _part(part: Part) -> dict[str, Any]:
    return {
        "name": part.band.name,
        "price_per_kwh": format(part.band.price_per_kwh, "f"),
        "hours": _rounded(_decimal(part.hours), _HOURS),
        "share": _rounded(_decimal(part.share), _SHARE),
    }


def _demand(demand: DemandCost) -> dict[str, Any]:
    return {
        "charge_per_kw_month": format(demand.charge.value, "f"),
        "full_load_per_month": _rounded(demand.full_load_per_month, _PER_YEAR),
        "expected_per_month": _rounded(demand.expected_per_month, _PER_YEAR),
        "from_at": demand.charge.from_at,
        "source": demand.charge.source,
    }


def _decimal(value: Fraction) -> Decimal:
    return Decimal(value.numerator) / Decimal(value.denominator)


def _factor(one: Factor) -> dict[str, Any]:
    return {"value": format(one.value, "f"), "unit": one.unit, "source": one.source, "year": one.year}


def _rounded(value: Decimal | None, step: Decimal) -> str | None:
    return None if value is None else format(value.quantize(step, ROUND_HALF_UP), "f")
