"""Bring every price and energy of a supply to what a loss is counted in: m3 at 1 bar, 20 °C, dry.

Written once, so that a finding's cost, an order's cost of waiting and a month's statement are one money.
A vacuum system's specific energy is J per m3 of pump inlet volume, at the line's pressure and
temperature, as pump data give it; it is never a compressor's figure. Steam is priced by mass only, by
what a kilogram costs to make: its m3 exist in the books alone.
"""

from dataclasses import dataclass
from decimal import Decimal

from findings.kinds.base import Medium
from findings.kinds.cost import product
from findings.kinds.vacuum_leak import pump_inlet_flow_m3_per_s
from findings.physics.gases import GASES, Gas, find_gas
from findings.physics.reference_states import DEFAULT_STATE, density_kg_per_m3
from findings.physics.steam import BOOKED_DENSITY_KG_PER_M3

PRICED_BY_MASS = frozenset({Medium.STEAM})


@dataclass(frozen=True, slots=True)
class SupplyState:
    """What a supply system carries: absolute pressure in Pa, temperature in K."""

    medium: Medium
    gas_name: str
    absolute_pa: float
    temperature_k: float


def reference_density_kg_per_m3(medium: Medium, gas_name: str = "") -> Decimal | None:
    """Return the mass in a m3 at 1 bar, 20 °C; None for a gas without data. Steam as it is booked."""
    if medium is Medium.STEAM:
        return Decimal(repr(BOOKED_DENSITY_KG_PER_M3))
    gas = GASES["methane"] if medium is Medium.NATURAL_GAS else _gas_of(medium, gas_name)
    return None if gas is None else Decimal(repr(density_kg_per_m3(gas, DEFAULT_STATE)))


def energy_per_m3(supply: SupplyState, energy_j_per_m3: Decimal) -> Decimal | None:
    """Return the J that a lost m3 at 1 bar, 20 °C takes, from the specific energy stated for its supply.

    None where the stated energy prices nothing: for steam, and for a vacuum of no pressure at all.
    """
    if supply.medium in PRICED_BY_MASS:
        return None
    if supply.medium is not Medium.VACUUM:
        return energy_j_per_m3
    if not supply.absolute_pa > 0.0:
        return None
    inlet_m3 = pump_inlet_flow_m3_per_s(1.0, supply.absolute_pa, supply.temperature_k)
    return product(energy_j_per_m3, Decimal(repr(inlet_m3)))


def price_by_volume(medium: Medium, price_per_m3: Decimal) -> Decimal | None:
    """Return a price per m3 at 1 bar, 20 °C; None for what is priced by mass only."""
    return None if medium in PRICED_BY_MASS else price_per_m3


def price_by_mass(medium: Medium, gas_name: str, price_per_kg: Decimal) -> Decimal | None:
    """Return the price per m3 at 1 bar, 20 °C of a price per kg; None for a gas without data."""
    density = reference_density_kg_per_m3(medium, gas_name)
    return None if density is None else product(price_per_kg, density)


def _gas_of(medium: Medium, gas_name: str) -> Gas | None:
    if medium is Medium.COMPRESSED_AIR or medium is Medium.VACUUM:
        return GASES["air"]
    return find_gas(gas_name or medium.value)
