"""Words of the supply room, and what a stated value can be at all."""

from __future__ import annotations

import math
from decimal import Decimal
from enum import StrEnum
from typing import Final, NoReturn

from findings.kinds.base import Medium
from findings.physics.compressor import problems_of_specific_energy, specific_energy_j_per_m3

HIGHEST_GAUGE_PA: Final = 40_000_000.0
LOWEST_TEMPERATURE_K, HIGHEST_TEMPERATURE_K = 200.0, 600.0
HIGHEST_PUMP_J_PER_M3: Final = 250_000.0
"""More than a vacuum pump takes per m3 of inlet volume (judgement); compressed air takes more per m3."""
EARLIEST_SOURCE_YEAR: Final = 1990
HIGHEST_VALUE: Final = Decimal(10) ** 12
HIGHEST_FLOW_M3_PER_S: Final = Decimal(1_000)


class ControlType(StrEnum):
    """How a compressor follows demand; it decides what a repaired leak really saves."""

    INLET_MODULATION = "inlet_modulation"
    LOAD_UNLOAD = "load_unload"
    VARIABLE_DISPLACEMENT = "variable_displacement"
    VARIABLE_SPEED = "variable_speed"
    START_STOP = "start_stop"


class Quantity(StrEnum):
    """What a dated value says, with its unit in the name.

    The mean demand is all that the machines deliver while the system is under pressure, leaks included,
    at 1 bar, 20 °C, dry. A specific energy is J per m3 of the gas at 1 bar, 20 °C; a vacuum system's is
    J per m3 of pump inlet volume, at the line's own pressure and temperature. Steam is priced per kg only.
    """

    ELECTRICITY_PRICE_PER_KWH = "electricity_price_per_kwh"
    SPECIFIC_ENERGY_J_PER_M3 = "specific_energy_j_per_m3"
    PRESSURISED_SHARE = "pressurised_share"
    GAS_PRICE_PER_KG = "gas_price_per_kg"
    GAS_PRICE_PER_M3 = "gas_price_per_m3"
    GRID_FACTOR_KG_PER_KWH = "grid_factor_kg_per_kwh"
    MEAN_DEMAND_M3_PER_S = "mean_demand_m3_per_s"
    DEMAND_CHARGE_PER_KW_MONTH = "demand_charge_per_kw_month"


MONEY = frozenset(
    {
        Quantity.ELECTRICITY_PRICE_PER_KWH,
        Quantity.GAS_PRICE_PER_KG,
        Quantity.GAS_PRICE_PER_M3,
        Quantity.DEMAND_CHARGE_PER_KW_MONTH,
    }
)
PER_SITE = frozenset(
    {
        Quantity.ELECTRICITY_PRICE_PER_KWH,
        Quantity.GRID_FACTOR_KG_PER_KWH,
        Quantity.DEMAND_CHARGE_PER_KW_MONTH,
    }
)


class SupplyRefused(ValueError):
    """A value that no supply can have; ``member`` and ``code`` are stable."""

    def __init__(self, member: str, code: str, text: str) -> None:
        super().__init__(text)
        self.member = member
        self.code = code


def check_header(
    medium: str, pressure_gauge_pa: float, temperature_k: float, *, atmosphere_pa: float
) -> None:
    """Raise SupplyRefused unless the header's gauge pressure (Pa) and temperature (K) can be.

    A vacuum lies below the site's atmosphere and above nothing at all; everything else above it.
    """
    member, code = "pressure_gauge_pa", "out_of_range"
    if not (math.isfinite(pressure_gauge_pa) and pressure_gauge_pa <= HIGHEST_GAUGE_PA):
        refuse_supply(member, code, f"At most {HIGHEST_GAUGE_PA:.0f} Pa gauge.")
    if medium == Medium.VACUUM:
        if not -atmosphere_pa < pressure_gauge_pa < 0.0:
            text = f"A vacuum's gauge pressure lies between {-atmosphere_pa:.0f} and 0 Pa."
            refuse_supply(member, "not_a_vacuum", text)
    elif pressure_gauge_pa <= 0.0:
        refuse_supply(member, "not_above_atmosphere", "The gauge pressure has to be above 0 Pa.")
    if not LOWEST_TEMPERATURE_K <= temperature_k <= HIGHEST_TEMPERATURE_K:
        text = f"Between {LOWEST_TEMPERATURE_K:.0f} and {HIGHEST_TEMPERATURE_K:.0f} K."
        refuse_supply("temperature_k", code, text)


def check_gas_name(medium: str, gas_name: str) -> None:
    """Raise SupplyRefused unless exactly the medium "other" names its gas."""
    if medium == Medium.OTHER and not gas_name:
        refuse_supply("gas_name", "gas_name_missing", "Name the gas.")
    if medium != Medium.OTHER and gas_name:
        refuse_supply("gas_name", "gas_name_needless", "Only the medium “other” names its gas.")


def check_value(quantity: Quantity, value: Decimal) -> None:
    """Raise SupplyRefused unless the value can be one of its quantity."""
    if not value.is_finite() or value < 0 or value > HIGHEST_VALUE:
        refuse_supply("value", "out_of_range", f"Between 0 and {HIGHEST_VALUE}.")
    if quantity == Quantity.PRESSURISED_SHARE and value > 1:
        refuse_supply("value", "share_above_one", "A share lies between 0 and 1.")
    if quantity == Quantity.SPECIFIC_ENERGY_J_PER_M3 and value == 0:
        refuse_supply("value", "out_of_range", "No machine compresses for nothing.")
    if quantity == Quantity.MEAN_DEMAND_M3_PER_S and value > HIGHEST_FLOW_M3_PER_S:
        refuse_supply("value", "out_of_range", f"At most {HIGHEST_FLOW_M3_PER_S} m³/s.")


def check_specific_energy(
    energy_j_per_m3: float, *, medium: str, pressure_gauge_pa: float, atmosphere_pa: float, member: str
) -> None:
    """Raise SupplyRefused for a specific energy that no compressor to this header can have.

    J per m3 of inlet air: a compressor draws it in at the site's atmosphere, a vacuum pump at the
    line's pressure. Other gases are drawn in at pressures that are not known here and aren't judged.
    """
    if medium not in {Medium.COMPRESSED_AIR, Medium.VACUUM}:
        return
    if medium == Medium.VACUUM and energy_j_per_m3 > HIGHEST_PUMP_J_PER_M3:
        text = "Above 250 kJ per m³ of pump inlet volume: that is a compressor's figure, not a vacuum pump's."
        refuse_supply(member, "not_a_vacuum_pump", text)
    ends = sorted((atmosphere_pa, atmosphere_pa + pressure_gauge_pa))
    found = problems_of_specific_energy(energy_j_per_m3, inlet_pa=ends[0], outlet_pa=ends[1])
    if found:
        refuse_supply(member, found[0].code, found[0].text)


def check_rating(
    flow_m3_per_s: float,
    power_w: float,
    *,
    medium: str,
    pressure_gauge_pa: float,
    atmosphere_pa: float,
) -> None:
    """Raise SupplyRefused for rated flow (m3/s of inlet air) and power (W) that no machine has."""
    if not (math.isfinite(flow_m3_per_s) and 0.0 < flow_m3_per_s <= 1_000.0):
        refuse_supply("rated_flow_m3_per_s", "out_of_range", "Above 0 and at most 1000 m³/s.")
    if not (math.isfinite(power_w) and 0.0 < power_w <= 100e6):
        refuse_supply("rated_power_w", "out_of_range", "Above 0 and at most 100 MW.")
    if medium == Medium.VACUUM:
        return  # a pump's plate gives its largest volume flow and its largest power, not of one moment
    check_specific_energy(
        specific_energy_j_per_m3(power_w, flow_m3_per_s),
        medium=medium,
        pressure_gauge_pa=pressure_gauge_pa,
        atmosphere_pa=atmosphere_pa,
        member="rated_power_w",
    )


def check_source(quantity: Quantity, source: str, source_year: int | None, *, this_year: int) -> None:
    """Raise SupplyRefused unless the value names its source, and a grid factor its year."""
    if not source.strip():
        refuse_supply("source", "source_missing", "Say where the value comes from.")
    if quantity == Quantity.GRID_FACTOR_KG_PER_KWH and source_year is None:
        refuse_supply("source_year", "source_year_missing", "A grid factor names the year it is for.")
    if source_year is not None and not EARLIEST_SOURCE_YEAR <= source_year <= this_year + 1:
        text = f"Between {EARLIEST_SOURCE_YEAR} and {this_year + 1}."
        refuse_supply("source_year", "out_of_range", text)


def check_currency_of(quantity: Quantity, currency: str, site_currency: str) -> None:
    """Raise SupplyRefused unless money is in the site's currency and nothing else has one."""
    if quantity in MONEY and not currency:
        refuse_supply("currency", "currency_missing", "A price names its currency.")
    if quantity in MONEY and currency != site_currency:
        refuse_supply("currency", "currency_differs", f"This site's currency is {site_currency}.")
    if quantity not in MONEY and currency:
        refuse_supply("currency", "currency_needless", "Only a price has a currency.")


def refuse_supply(member: str, code: str, text: str) -> NoReturn:
    raise SupplyRefused(member, code, text)
