"""What a finding costs and emits now, from the values in force; nothing is computed from a missing one."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final, NamedTuple

from findings.kinds import cost
from findings.kinds.base import Medium
from findings.physics.emissions import METHANE_FOSSIL_AR6
from findings.physics.gases import GASES, Gas, find_gas
from findings.physics.reference_states import DEFAULT_STATE, density_kg_per_m3
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


def cost_now(
    rate_m3_per_s: Decimal, medium: Medium, gas_name: str, values: Mapping[Quantity, Decimal]
) -> CostNow:
    """Return what a leak rate (1 bar, 20 °C, dry) costs and emits by the values in force.

    Electricity and the gas itself add up where a system has both, as in the monthly statements.
    """
    share = values.get(Quantity.PRESSURISED_SHARE, Decimal(1))
    missing: list[Missing] = []
    parts = [
        _electricity(rate_m3_per_s, values, missing),
        _gas(rate_m3_per_s, medium, gas_name, values, missing),
    ]
    if missing:
        return CostNow(reasons=tuple(missing))
    known = [part for part in parts if part is not None]
    if not known:
        text = "Neither a specific energy nor a gas price is in force for the supply system."
        return no_cost("specific_energy_missing", text)
    emitted, why = _emitted(rate_m3_per_s, medium, gas_name, values)
    return CostNow(
        per_hour=sum(known, Decimal(0)) * share,
        co2e_kg_per_hour=None if emitted is None else emitted * share,
        reasons=why,
    )


def _electricity(rate: Decimal, values: Mapping[Quantity, Decimal], missing: list[Missing]) -> Decimal | None:
    energy = values.get(Quantity.SPECIFIC_ENERGY_J_PER_M3)
    if energy is None:
        return None
    price = values.get(Quantity.ELECTRICITY_PRICE_PER_KWH)
    if price is None:
        missing.append(Missing("electricity_price_missing", "No electricity price is in force."))
        return None
    return cost.cost_per_hour(rate, energy, price)


def _gas(
    rate: Decimal, medium: Medium, gas_name: str, values: Mapping[Quantity, Decimal], missing: list[Missing]
) -> Decimal | None:
    per_m3, per_kg = values.get(Quantity.GAS_PRICE_PER_M3), values.get(Quantity.GAS_PRICE_PER_KG)
    if per_m3 is not None:
        return cost.volume_cost_per_hour(rate, per_m3)
    if per_kg is None:
        return None
    density = _density(medium, gas_name)
    if density is None:
        missing.append(Missing("gas_unknown", "The price is per kilogram, and no data are held for the gas."))
        return None
    return cost.mass_cost_per_hour(rate * density, per_kg)


def _emitted(
    rate: Decimal, medium: Medium, gas_name: str, values: Mapping[Quantity, Decimal]
) -> tuple[Decimal | None, tuple[Missing, ...]]:
    energy, factor = (
        values.get(Quantity.SPECIFIC_ENERGY_J_PER_M3),
        values.get(Quantity.GRID_FACTOR_KG_PER_KWH),
    )
    total: Decimal | None = None
    if energy is not None:
        if factor is None:
            return None, (Missing("grid_factor_missing", "No grid emission factor is in force."),)
        total = cost.co2e_kg_per_hour(cost.power_w(rate, energy), factor)
    density = _density(medium, gas_name)
    if medium in _WARMING and density is not None:
        vented = cost.vented_co2e_kg_per_hour(rate * density, _WARMING[medium])
        total = vented if total is None else total + vented
    return total, ()


def _density(medium: Medium, gas_name: str) -> Decimal | None:
    gas: Gas | None = GASES["methane"] if medium is Medium.NATURAL_GAS else find_gas(gas_name or medium.value)
    return None if gas is None else Decimal(repr(density_kg_per_m3(gas, DEFAULT_STATE)))
