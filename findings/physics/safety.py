"""Flammable limits, oxygen limits and screening sums for a competent person; never a clearance.

Concentrations are volume fractions. An ultrasound reading is no gas-free test.
"""

import math
from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple

from findings.physics.gases import MOLAR_GAS_CONSTANT_J_PER_MOL_K

OXYGEN_IN_AIR = 0.209
OXYGEN_DEFICIENT = 0.195
OXYGEN_ENRICHED = 0.235
"""Below 19.5 % and above 23.5 % oxygen an atmosphere is hazardous (29 CFR 1910.146(b))."""
HAZARDOUS_PART_OF_LFL = 0.10
"""Above a tenth of the lower flammable limit an atmosphere is hazardous (29 CFR 1910.146(b))."""
PRIMARY_RELEASE_FACTOR = 0.25
SECONDARY_RELEASE_FACTOR = 0.5
ACETYLENE_MOLAR_MASS_KG_PER_MOL = 0.0260373
"""From IUPAC atomic weights."""
NO_AIR_CHANGE = 1e-9
"""Air changes during the time below which a room counts as unventilated."""


class CautionKey(StrEnum):
    """Name the cautions a finding may carry; their wording lives with the kinds."""

    FUEL_GAS = "fuel_gas"
    OXYGEN = "oxygen"
    INERT_GAS = "inert_gas"
    UNKNOWN_GAS = "unknown_gas"
    STEAM = "steam"
    PRESSURE_JET = "pressure_jet"
    ISOLATE = "isolate"
    VACUUM = "vacuum"
    ELECTRICAL = "electrical"
    ROTATION = "rotation"
    CONFINED_SPACE = "confined_space"
    HEARING = "hearing"
    NOT_A_GAS_TEST = "not_a_gas_test"


class FlammableLimits(NamedTuple):
    """Lower and upper flammable limit in air as volume fractions, with their source."""

    lower: float
    upper: float
    source: str


_BULLETIN = "US Bureau of Mines Bulletin 627"
_IEC = "IEC 60079-20-1, from memory; upper limit of Bulletin 627"
FLAMMABLE_LIMITS: Mapping[str, tuple[FlammableLimits, ...]] = MappingProxyType(
    {
        "methane": (FlammableLimits(0.050, 0.150, _BULLETIN), FlammableLimits(0.044, 0.150, _IEC)),
        "propane": (FlammableLimits(0.021, 0.095, _BULLETIN), FlammableLimits(0.017, 0.095, _IEC)),
        "hydrogen": (FlammableLimits(0.040, 0.750, _BULLETIN), FlammableLimits(0.040, 0.750, _IEC)),
        "acetylene": (FlammableLimits(0.025, 1.0, _BULLETIN), FlammableLimits(0.023, 1.0, _IEC)),
    }
)


def lowest_flammable_limit(gas: str) -> FlammableLimits:
    """Return the row with the lowest published lower limit, for screening; KeyError if none is held."""
    return min(FLAMMABLE_LIMITS[gas], key=lambda row: row.lower)


def part_of_limit(concentration: float, lower_limit: float) -> float:
    """Return a concentration as a part of the lower flammable limit."""
    return concentration / lower_limit


def concentration_at(part: float, lower_limit: float) -> float:
    """Return the concentration that is the given part of the lower flammable limit."""
    return part * lower_limit


def oxygen_state(fraction: float) -> str:
    """Return "deficient", "normal" or "enriched" for a volume fraction of oxygen."""
    if fraction < OXYGEN_DEFICIENT:
        return "deficient"
    return "enriched" if fraction > OXYGEN_ENRICHED else "normal"


def oxygen_fraction(air_m3_per_s: float, released_m3_per_s: float, *, oxygen_released: bool = False) -> float:
    """Return the oxygen fraction of a well-mixed room with fresh air and a steady release."""
    own = released_m3_per_s if oxygen_released else 0.0
    return (OXYGEN_IN_AIR * air_m3_per_s + own) / (air_m3_per_s + released_m3_per_s)


def limit_as_density_kg_per_m3(
    lower_limit: float, molar_mass_kg_per_mol: float, *, pressure_pa: float, temperature_k: float
) -> float:
    """Return the lower flammable limit as mass of gas per volume of mixture."""
    return (
        lower_limit * molar_mass_kg_per_mol * pressure_pa / (MOLAR_GAS_CONSTANT_J_PER_MOL_K * temperature_k)
    )


def least_fresh_air_m3_per_s(
    release_kg_per_s: float, limit_kg_per_m3: float, *, factor: float, temperature_k: float
) -> float:
    """Return the theoretical least fresh air that keeps the mean below the factor times the limit.

    Screening for the competent person, never a zone or a clearance. Source: the form of the earlier
    EN 60079-10, factor 0.25 for continuous and primary, 0.5 for secondary releases; from memory.
    """
    return release_kg_per_s / (factor * limit_kg_per_m3) * temperature_k / 293.0


def room_concentration(
    release_m3_per_s: float, air_m3_per_s: float, *, volume_m3: float, time_s: float, mixing: float = 1.0
) -> float:
    """Return the mean concentration in a room after a time, without fresh air too; a small release.

    ``mixing`` above 0 to 1 is the part of the fresh air that does its work: poor mixing makes the room fill
    as if it had less. From the balance V dc/dt = release - mixing air c.
    """
    working = mixing * air_m3_per_s
    if working * time_s <= NO_AIR_CHANGE * volume_m3:
        return release_m3_per_s * time_s / volume_m3
    return -release_m3_per_s / working * math.expm1(-working * time_s / volume_m3)


def oxygen_after(
    air_m3_per_s: float,
    released_m3_per_s: float,
    *,
    volume_m3: float,
    time_s: float,
    oxygen_released: bool = False,
) -> float:
    """Return the oxygen fraction of a well-mixed room some time after a steady release began in fresh air.

    From the balance V dx/dt = 0.209 air (+ release) - (air + release) x. At least one flow above 0.
    """
    end = oxygen_fraction(air_m3_per_s, released_m3_per_s, oxygen_released=oxygen_released)
    left = math.exp(-(air_m3_per_s + released_m3_per_s) * time_s / volume_m3)
    return end + (OXYGEN_IN_AIR - end) * left
