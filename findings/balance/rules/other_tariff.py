"""What if electricity had another price: the same leaks, dearer or cheaper."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from findings.balance.rules.repairs import NO_FINDING
from findings.balance.rules.shut_off import NO_ENERGY
from findings.balance.rules.system_now import SystemNow
from findings.balance.rules.yearly import Yearly, saving_of, yearly_at
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.uncertainty import Uncertain, interval
from findings.register.rules import price_per_kwh

METHOD: Final = "tariff-change"
VERSION: Final = "1"


@dataclass(frozen=True, slots=True)
class AtPrice:
    """What the open findings come to in a year at a price per kWh: at full load, and as expected."""

    price_per_kwh: Decimal | None
    full_load: Yearly
    expected: Yearly


@dataclass(frozen=True, slots=True)
class OtherTariff:
    """The findings at the price in force, at another one, and the other less the present."""

    flow: Uncertain
    before: AtPrice
    after: AtPrice
    difference: AtPrice


def other_price(now: SystemNow, new_price: Decimal) -> OtherTariff:
    """Return what all open findings of the system come to in a year at another price per kWh."""
    flow, price = now.found(), price_per_kwh(now.values)
    change = None if price is None else new_price - price
    powers = _full_load(now, flow), _expected(now, flow)
    before, after, difference = (
        AtPrice(one, *(yearly_at(now, power, one) for power in powers)) for one in (price, new_price, change)
    )
    return OtherTariff(flow, before, after, difference)


def _full_load(now: SystemNow, flow: Uncertain) -> Estimate:
    energy = now.energy_j_per_m3
    if energy is None or not flow.value > 0.0:
        return _refused(NO_ENERGY if energy is None else NO_FINDING)
    power, u = flow.value * float(energy), flow.u * float(energy)
    bounds = interval(power, u, floor=0.0)
    return Estimate(power, u, bounds.low, bounds.high, "W", METHOD, VERSION, Status.ESTIMATED)


def _expected(now: SystemNow, flow: Uncertain) -> Estimate:
    return saving_of(now, flow).estimate() if flow.value > 0.0 else _refused(NO_FINDING)


def _refused(reason: Reason) -> Estimate:
    return refused(unit="W", method=METHOD, version=VERSION, reasons=(reason,), inputs={})
