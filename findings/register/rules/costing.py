"""What a flow and its power cost and emit, from the values in force; a missing one is never guessed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final, NamedTuple

from findings.kinds import cost
from findings.kinds.base import Medium
from findings.kinds.pricing import (
    PRICED_BY_MASS,
    SupplyState,
    energy_per_m3,
    price_by_mass,
    price_by_volume,
    reference_density_kg_per_m3,
)
from findings.physics.emissions import METHANE_FOSSIL_AR6, Factor
from findings.supply.rules import Quantity

HOURS_PER_YEAR: Final = Decimal(8760)

WARMING: Final[Mapping[Medium, Factor]] = {
    Medium.NATURAL_GAS: METHANE_FOSSIL_AR6,
    Medium.CARBON_DIOXIDE: Factor(Decimal(1), "kg CO2e/kg", "definition", 2021),
}
"""Kilograms of CO2e per kilogram let into the air."""


class Missing(NamedTuple):
    """Why there is no figure."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class CostNow:
    """Money and emission per hour of the calendar, pressurised share counted; None with its reasons.

    ``power_w`` is the electric power behind them while the system is under pressure, None without any.
    """

    per_hour: Decimal | None = None
    co2e_kg_per_hour: Decimal | None = None
    reasons: tuple[Missing, ...] = field(default=())
    # The 95 % interval of the money per hour, where it was asked for.
    low_per_hour: Decimal | None = None
    high_per_hour: Decimal | None = None
    power_w: Decimal | None = None

    @property
    def per_year(self) -> Decimal | None:
        """Return the cost of 8760 such hours."""
        return None if self.per_hour is None else self.per_hour * HOURS_PER_YEAR

    @property
    def low_per_year(self) -> Decimal | None:
        """Return the lower bound of the cost per year."""
        return None if self.low_per_hour is None else self.low_per_hour * HOURS_PER_YEAR

    @property
    def high_per_year(self) -> Decimal | None:
        """Return the upper bound of the cost per year."""
        return None if self.high_per_hour is None else self.high_per_hour * HOURS_PER_YEAR

    @property
    def co2e_kg_per_year(self) -> Decimal | None:
        """Return the emission of 8760 such hours."""
        return None if self.co2e_kg_per_hour is None else self.co2e_kg_per_hour * HOURS_PER_YEAR


def no_cost(code: str, text: str) -> CostNow:
    """Return the refusal of a cost."""
    return CostNow(reasons=(Missing(code, text),))


def cost_now(rate_m3_per_s: Decimal, supply: SupplyState, values: Mapping[Quantity, Decimal]) -> CostNow:
    """Return what a leak rate (1 bar, 20 °C, dry) is worth and emits at full load, by the values in force.

    Electricity and the gas itself add up where a system has both, as in the monthly statements.
    """
    stated = values.get(Quantity.SPECIFIC_ENERGY_J_PER_M3)
    energy = None if stated is None else energy_per_m3(supply, stated)
    power_w = None if energy is None else cost.power_w(rate_m3_per_s, energy)
    return cost_of(Lost(rate_m3_per_s, power_w, supply), values)


class Lost(NamedTuple):
    """What goes with a leak: its flow (m3/s at 1 bar, 20 °C, dry) and the electric power that makes it.

    ``power_w`` None: the system takes no electricity that is known.
    """

    rate_m3_per_s: Decimal
    power_w: Decimal | None
    supply: SupplyState


def cost_of(lost: Lost, values: Mapping[Quantity, Decimal]) -> CostNow:
    """Return the money and emission of a flow and its power, pressurised share counted."""
    share = values.get(Quantity.PRESSURISED_SHARE, Decimal(1))
    missing: list[Missing] = []
    parts = [
        _electricity(lost.power_w, values, missing),
        _gas(lost.rate_m3_per_s, lost.supply, values, missing),
    ]
    if missing:
        return CostNow(reasons=tuple(missing))
    known = [part for part in parts if part is not None]
    if not known:
        return CostNow(reasons=(_nothing_stated(lost.supply.medium),))
    emitted, why = _emitted(lost, values)
    return CostNow(
        per_hour=sum(known, Decimal(0)) * share,
        co2e_kg_per_hour=None if emitted is None else emitted * share,
        reasons=why,
        power_w=lost.power_w,
    )


def _nothing_stated(medium: Medium) -> Missing:
    if medium in PRICED_BY_MASS:
        text = "No price per kilogram is in force: what a kilogram of steam costs to make."
        return Missing("gas_price_per_kg_missing", text)
    text = "Neither a specific energy nor a gas price is in force for the supply system."
    return Missing("specific_energy_missing", text)


def demand_charge_per_month(figure: CostNow, values: Mapping[Quantity, Decimal]) -> Decimal | None:
    """Return what a figure's power adds to a month's demand charge; None where there is no charge.

    A loss of constant power runs at the month's peak too, so all of its power counts. Never part of the cost.
    """
    charge = values.get(Quantity.DEMAND_CHARGE_PER_KW_MONTH)
    if charge is None or figure.power_w is None:
        return None
    return cost.product(figure.power_w, Decimal("0.001"), charge)


def price_per_kwh(values: Mapping[Quantity, Decimal]) -> Decimal | None:
    """Return the price that a saved kilowatt-hour is counted at; None where none is in force."""
    return values.get(Quantity.ELECTRICITY_PRICE_PER_KWH)


def buys_gas(values: Mapping[Quantity, Decimal]) -> bool:
    """Tell whether the gas itself is paid for: what doesn't leak isn't bought."""
    return Quantity.GAS_PRICE_PER_M3 in values or Quantity.GAS_PRICE_PER_KG in values


def _electricity(
    power_w: Decimal | None, values: Mapping[Quantity, Decimal], missing: list[Missing]
) -> Decimal | None:
    if power_w is None:
        return None
    price = price_per_kwh(values)
    if price is None:
        missing.append(Missing("electricity_price_missing", "No electricity price is in force."))
        return None
    return cost.power_cost_per_hour(power_w, price)


def _gas(
    rate: Decimal, supply: SupplyState, values: Mapping[Quantity, Decimal], missing: list[Missing]
) -> Decimal | None:
    per_m3, per_kg = values.get(Quantity.GAS_PRICE_PER_M3), values.get(Quantity.GAS_PRICE_PER_KG)
    price = None if per_m3 is None else price_by_volume(supply.medium, per_m3)
    if price is None and per_kg is not None:
        price = price_by_mass(supply.medium, supply.gas_name, per_kg)
        if price is None:
            text = "The price is per kilogram, and no data are held for the gas."
            missing.append(Missing("gas_unknown", text))
    return None if price is None else cost.volume_cost_per_hour(rate, price)


def _emitted(lost: Lost, values: Mapping[Quantity, Decimal]) -> tuple[Decimal | None, tuple[Missing, ...]]:
    total: Decimal | None = None
    if lost.power_w is not None:
        factor = values.get(Quantity.GRID_FACTOR_KG_PER_KWH)
        if factor is None:
            return None, (Missing("grid_factor_missing", "No grid emission factor is in force."),)
        total = cost.co2e_kg_per_hour(lost.power_w, factor)
    warming = WARMING.get(lost.supply.medium)
    density = reference_density_kg_per_m3(lost.supply.medium, lost.supply.gas_name)
    if warming is not None and density is not None:
        vented = cost.vented_co2e_kg_per_hour(lost.rate_m3_per_s * density, warming.value)
        total = vented if total is None else total + vented
    return total, ()
