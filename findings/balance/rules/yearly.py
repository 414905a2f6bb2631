"""From power to what it comes to in a year: money and its interval, not rounded yet."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from findings.balance.rules.system_now import SystemNow
from findings.physics.estimate import Estimate, Reason
from findings.physics.marginal_saving import Saving
from findings.physics.uncertainty import Uncertain
from findings.register.rules import price_per_kwh

NO_PRICE: Final = Reason("electricity_price_missing", "No electricity price is in force.")


@dataclass(frozen=True, slots=True)
class Yearly:
    """Money a year with its 95 % interval, in the site's currency; None with its reasons.

    The price is taken as known: the interval is that of the power or energy.
    """

    value: Decimal | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    reasons: tuple[Reason, ...] = ()


def yearly_of(now: SystemNow, power_w: Estimate) -> Yearly:
    """Return what a power in W comes to in a year under pressure at the price in force."""
    return yearly_at(now, power_w, price_per_kwh(now.values))


def yearly_at(now: SystemNow, power_w: Estimate, price: Decimal | None) -> Yearly:
    """Return what a power in W comes to in a year under pressure at a price per kWh."""
    return _priced(power_w, price, Decimal(repr(now.hours_per_year / 1000.0)))


def money_of_energy(energy_kwh: Estimate, price: Decimal | None) -> Yearly:
    """Return what an energy in kWh costs at a price per kWh."""
    return _priced(energy_kwh, price, Decimal(1))


def _priced(figure: Estimate, price: Decimal | None, kwh_each: Decimal) -> Yearly:
    numbers = (figure.value, figure.low, figure.high)
    if figure.is_refused or None in numbers:
        return Yearly(reasons=figure.reasons)
    if price is None:
        return Yearly(reasons=(NO_PRICE,))
    value, low, high = (Decimal(repr(number)) * kwh_each * price for number in numbers)
    # A fall in price turns the ends of the interval about.
    return Yearly(value, min(low, high), max(low, high))


def saving_of(now: SystemNow, flow: Uncertain) -> Saving:
    """Return what taking a flow away together is worth and is expected to save, W."""
    return now.station.saving(now.demand_m3_per_s, flow)


def factor_of(saving: Saving) -> Uncertain | None:
    """Return what part of the full-load power a saving is, with its uncertainty; None where refused."""
    if saving.factor is None or not saving.average_w or saving.shared_u_w is None:
        return None
    return Uncertain(saving.factor, saving.shared_u_w / saving.average_w)
