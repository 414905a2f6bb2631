"""Greenhouse effect of electricity used and of gas vented or burned, in kg CO2e.

Factors are passed in with their source and year; nothing here holds a grid factor.
"""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class Factor:
    """An emission factor, the unit it stands in, where it comes from and for which year."""

    value: Decimal
    unit: str
    source: str
    year: int


# Global warming potentials over 100 years, per kg of methane.
METHANE_AR5 = Factor(Decimal(28), "kg CO2e/kg", "IPCC AR5, methane", 2013)
METHANE_FOSSIL_AR5 = Factor(Decimal(30), "kg CO2e/kg", "IPCC AR5, fossil methane", 2013)
METHANE_AR6 = Factor(Decimal("27.0"), "kg CO2e/kg", "IPCC AR6, non-fossil methane", 2021)
METHANE_FOSSIL_AR6 = Factor(Decimal("29.8"), "kg CO2e/kg", "IPCC AR6, fossil methane", 2021)

# Combustion, higher heating value: 40 CFR 98 subpart C, tables C-1 and C-2.
NATURAL_GAS_CO2 = Factor(Decimal("53.06"), "kg CO2/MMBtu", "40 CFR 98 table C-1, year from memory", 2013)
NATURAL_GAS_HEAT = Factor(Decimal("1.026E-3"), "MMBtu/scf", "40 CFR 98 table C-1, year from memory", 2013)
PROPANE_CO2 = Factor(Decimal("62.87"), "kg CO2/MMBtu", "40 CFR 98 table C-1, year from memory", 2013)
PROPANE_HEAT = Factor(Decimal("0.091"), "MMBtu/gal", "40 CFR 98 table C-1, year from memory", 2013)


def electricity_co2e_kg(energy_kwh: Decimal, grid: Factor) -> Decimal:
    """Return the CO2e in kg of an electric energy in kWh; the grid factor is in kg CO2e/kWh."""
    return energy_kwh * grid.value


def vented_co2e_kg(mass_kg: Decimal, warming_potential: Factor) -> Decimal:
    """Return the CO2e in kg of gas let into the air; never mix it with a combustion factor."""
    return mass_kg * warming_potential.value


def burned_co2_kg(amount: Decimal, heat: Factor, carbon: Factor) -> Decimal:
    """Return the CO2 in kg of an amount burned, heat per amount times CO2 per heat in matching units."""
    return amount * heat.value * carbon.value
