"""How the two figures of a finding are answered, with the prices and factors they stand on."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from findings.physics.emissions import Factor
from findings.register.rules import CostNow, FindingCost
from findings.supply.rules import MONEY, InForce
from plantcare.api import shapes

_PER_HOUR, _PER_YEAR, _KILOGRAMS = Decimal("0.0001"), Decimal("0.01"), Decimal("0.0001")
PRICES = [(quantity.value, quantity.value) for quantity in sorted(MONEY)]


class FigureReasonShape(shapes.Shape):
    """Why a figure is as it is, or why there is none."""

    code = shapes.TextField()
    text = shapes.TextField()


class FigureShape(shapes.Shape):
    """Money and emission per hour and per year of the calendar; null with its reasons, never zero."""

    per_hour = shapes.DecimalString(max_digits=24, decimal_places=4, allow_null=True)
    per_year = shapes.DecimalString(max_digits=24, decimal_places=2, allow_null=True)
    co2e_kg_per_hour = shapes.DecimalString(max_digits=24, decimal_places=4, allow_null=True)
    co2e_kg_per_year = shapes.DecimalString(max_digits=24, decimal_places=4, allow_null=True)
    reasons = FigureReasonShape(many=True)


class PriceInForceShape(shapes.Shape):
    """A price that the figures stand on: since when it holds, and where it comes from."""

    quantity = shapes.ChoiceField(choices=PRICES)
    value = shapes.DecimalString(max_digits=24, decimal_places=10)
    currency = shapes.TextField()
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
            "co2e_factors": [_factor(one) for one in cost.factors],
        }


def _figure(cost: CostNow) -> dict[str, Any]:
    return {
        "per_hour": _rounded(cost.per_hour, _PER_HOUR),
        "per_year": _rounded(cost.per_year, _PER_YEAR),
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
    }


def _factor(one: Factor) -> dict[str, Any]:
    return {"value": format(one.value, "f"), "unit": one.unit, "source": one.source, "year": one.year}


def _rounded(value: Decimal | None, step: Decimal) -> str | None:
    return None if value is None else format(value.quantize(step, ROUND_HALF_UP), "f")
