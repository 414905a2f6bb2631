"""Money by piecewise integration: exact inside, one rounding at the edge.

Every amount is the full-load (average) value of the air, by the specific energy in force. What a repair is
expected to save at the machines' part load is shown at the finding and never mixed in here: a closed month
must not change with a compressor's order or load.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal, localcontext
from fractions import Fraction
from typing import Final

from workorders.statements.rules.history import LossFact
from workorders.statements.rules.series import KnownPrices
from workorders.statements.rules.time import clip, seconds_between

DIGITS: Final = 40
"""Significant digits of a figure handed out before rounding; inside, nothing is rounded at all."""


@dataclass(frozen=True, slots=True)
class Amount:
    """What a loss came to: money in the site's currency, energy in kWh, gas in m³ at 1 bar, 20 °C, dry.

    `co2e_kg` is of the electricity; None where a grid factor was missing.
    """

    cost: Fraction = Fraction(0)
    energy_kwh: Fraction = Fraction(0)
    volume_m3: Fraction = Fraction(0)
    co2e_kg: Fraction | None = Fraction(0)

    def __add__(self, other: "Amount") -> "Amount":
        """Add like to like."""
        known = self.co2e_kg is not None and other.co2e_kg is not None
        return Amount(
            self.cost + other.cost,
            self.energy_kwh + other.energy_kwh,
            self.volume_m3 + other.volume_m3,
            Fraction(self.co2e_kg or 0) + Fraction(other.co2e_kg or 0) if known else None,
        )


def to_decimal(value: Fraction) -> Decimal:
    """Hand out an exact figure as a decimal of 40 significant digits."""
    with localcontext(prec=DIGITS):
        return Decimal(value.numerator) / Decimal(value.denominator)


def quantise(value: Decimal | Fraction, places: int = 2) -> Decimal:
    """Round a figure once, at the edge, halves up."""
    exact = to_decimal(value) if isinstance(value, Fraction) else value
    with localcontext(prec=DIGITS * 2):
        return exact.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


def share_out(parts: Sequence[Decimal], places: int = 2) -> tuple[Decimal, ...]:
    """Round lines so that the shown lines add up to the shown total.

    The total is rounded once; every line is cut down, and the cents left over go to the lines that
    lost most, earlier lines first.
    """
    if not parts:
        return ()
    with localcontext(prec=DIGITS * 2):
        unit = Decimal(1).scaleb(-places)
        floors = [part.quantize(unit, rounding=ROUND_FLOOR) for part in parts]
        left = int((quantise(sum(parts, Decimal(0)), places) - sum(floors, Decimal(0))) / unit)
        most_lost = sorted(range(len(parts)), key=lambda index: floors[index] - parts[index])
        for index in most_lost[:left]:
            floors[index] += unit
    return tuple(floors)


def amount_at_rate(
    rate_m3_per_s: Decimal, system: str, start: datetime, end: datetime, prices: KnownPrices
) -> Amount:
    """Integrate one leak rate over a stretch of time; raises PriceGapError where a value is missing."""
    rate = Fraction(rate_m3_per_s)
    total = Amount()
    if rate == 0 or end <= start:
        return total
    for piece in prices.pieces(system, start, end):
        gross = rate * seconds_between(piece.start, piece.end)
        total += Amount(
            gross * piece.cost_per_m3,
            gross * piece.kwh_per_m3,
            gross * piece.pressurised_share,
            None if piece.co2e_kg_per_m3 is None else gross * piece.co2e_kg_per_m3,
        )
    return total


def amount_in(losses: Iterable[LossFact], window: tuple[datetime, datetime], prices: KnownPrices) -> Amount:
    """Integrate all losses of a finding over a window."""
    total = Amount()
    for loss in losses:
        part = clip(loss.started_at, loss.ended_at, window)
        if part is not None:
            total += amount_at_rate(loss.rate_m3_per_s, loss.system, *part, prices)
    return total


def cost_of_waiting(
    rate_m3_per_s: Decimal, system: str, start: datetime, end: datetime, prices: KnownPrices
) -> Decimal:
    """Give what it costs to let a leak run from one moment to another, at the prices known."""
    return to_decimal(amount_at_rate(rate_m3_per_s, system, start, end, prices).cost)


def cost_per_day(rate_m3_per_s: Decimal, system: str, at: datetime, prices: KnownPrices) -> Decimal:
    """Give what a day of 24 h costs at the prices in force at a moment: the rate behind a cost of delay."""
    return to_decimal(cost_rate(rate_m3_per_s, system, at, prices) * 86_400)


def cost_rate(rate_m3_per_s: Decimal, system: str, at: datetime, prices: KnownPrices) -> Fraction:
    """Give the money lost per second at a moment."""
    return Fraction(rate_m3_per_s) * prices.cost_per_m3_at(system, at)
