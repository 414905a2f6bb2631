"""Words of the supply room."""

from __future__ import annotations

from enum import StrEnum


class ControlType(StrEnum):
    """How a compressor follows demand; it decides what a repaired leak really saves."""

    INLET_MODULATION = "inlet_modulation"
    LOAD_UNLOAD = "load_unload"
    VARIABLE_DISPLACEMENT = "variable_displacement"
    VARIABLE_SPEED = "variable_speed"
    START_STOP = "start_stop"


class Quantity(StrEnum):
    """What a dated value says, with its unit in the name."""

    ELECTRICITY_PRICE_PER_KWH = "electricity_price_per_kwh"
    SPECIFIC_ENERGY_J_PER_M3 = "specific_energy_j_per_m3"
    PRESSURISED_SHARE = "pressurised_share"
    GAS_PRICE_PER_KG = "gas_price_per_kg"
    GAS_PRICE_PER_M3 = "gas_price_per_m3"
    GRID_FACTOR_KG_PER_KWH = "grid_factor_kg_per_kwh"


MONEY = frozenset({Quantity.ELECTRICITY_PRICE_PER_KWH, Quantity.GAS_PRICE_PER_KG, Quantity.GAS_PRICE_PER_M3})
PER_SITE = frozenset({Quantity.ELECTRICITY_PRICE_PER_KWH, Quantity.GRID_FACTOR_KG_PER_KWH})
