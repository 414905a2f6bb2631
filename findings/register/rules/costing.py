"""What a finding costs and emits now, from the values in force; nothing is computed from a missing one."""

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
from findings.physics.emissions import METHANE_FOSSIL_AR6
from findings.supply.rules import Quantity

HOURS_PER_YEAR: Final = Decimal(8760)

_WARMING: Final[Mapping[Medium, Decimal]] = {
    Medium.NATURAL_GAS: METHANE_FOSSIL_AR6.value,
    Medium.CARBON_DIOXIDE: Decimal(1),
}
"""Kilograms of CO2e per kilogram let into the air."""


class Missing(NamedTuple):
    """Why there is no figure."""

    code: str
    text: str


@dataclass(frozen=True, slots=True)
class CostNow:
    """Money and emission per hour of the calendar, pressurised share counted; None with its reasons."""

    per_hour: Decimal | None = None
    co2e_kg_per_hour: Decimal | None = None
    reasons: tuple[Missing, ...] = field(default=())

    @property
    def per_year(self) -> Decimal | None:
        """Return the cost of 8760 such hours."""
        return None if self.per_hour is None else self.per_hour * HOURS_PER_YEAR


def no_cost(code: str, text: str) -> CostNow:
    """Return the refusal of a cost."""
    return CostNow(reasons=(Missing(code, text),))


def cost_now(rate_m3_per_s: Decimal, supply: SupplyState, values: Mapping[Quantity, Decimal]) -> CostNow:
    """Return what a leak rate (1 bar, 20 °C, dry) costs and emits by the values in force.

    Electricity and the gas itself add up where a system has both, as in the monthly statements.
    """
    share = values.get(Quantity.PRESSURISED_SHARE, Decimal(1))
    stated = values.get(Quantity.SPECIFIC_ENERGY_J_PER_M3)
    energy = None if stated is None else energy_per_m3(supply, stated)
    missing: list[Missing] = []
    parts = [
        _electricity(rate_m3_per_s, energy, values, missing),
        _gas(rate_m3_per_s, supply, values, missing),
    ]
    if missing:
        return CostNow(reasons=tuple(missing))
    known = [part for part in parts if part is not None]
    if not known:
        return CostNow(reasons=(_nothing_stated(supply.medium),))
    emitted, why = _emitted(rate_m3_per_s, supply, energy, values)
    return CostNow(
        per_hour=sum(known, Decimal(0)) * share,
        co2e_kg_per_hour=None if emitted is None else emitted * share,
        reasons=why,
    )


def _nothing_stated(medium: Medium) -> Missing:
    if medium in PRICED_BY_MASS:
        text = "No price per kilogram is in force: what a kilogram of steam costs to make."
        return Missing("gas_price_per_kg_missing", text)
    text = "Neither a specific energy nor a gas price is in force for the supply system."
    return Missing("specific_energy_missing", text)


def _electricity(
    rate: Decimal, energy: Decimal | None, values: Mapping[Quantity, Decimal], missing: list[Missing]
) -> Decimal | None:
    if energy is None:
        return None
    price = values.get(Quantity.ELECTRICITY_PRICE_PER_KWH)
    if price is None:
        missing.append(Missing("electricity_price_missing", "No electricity price is in force."))
        return None
    return cost.cost_per_hour(rate, energy, price)


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


def _emitted(
    rate: Decimal, supply: SupplyState, energy: Decimal | None, values: Mapping[Quantity, Decimal]
) -> tuple[Decimal | None, tuple[Missing, ...]]:
    factor = values.get(Quantity.GRID_FACTOR_KG_PER_KWH)
    total: Decimal | None = None
    if energy is not None:
        if factor is None:
            return None, (Missing("grid_factor_missing", "No grid emission factor is in force."),)
        total = cost.co2e_kg_per_hour(cost.power_w(rate, energy), factor)
    density = reference_density_kg_per_m3(supply.medium, supply.gas_name)
    if supply.medium in _WARMING and density is not None:
        vented = cost.vented_co2e_kg_per_hour(rate * density, _WARMING[supply.medium])
        total = vented if total is None else total + vented
    return total, ()
