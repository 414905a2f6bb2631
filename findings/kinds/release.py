"""What a leak of a dangerous gas lets out, and how much clean air would thin it: for a competent person.

Shown before any money. Every figure is screening for a person who knows the place, never a clearance and
never a zone: local codes, the site's gas contact and a suitable gas test decide.
"""

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from findings.kinds.base import Hazard, Kind, Medium
from findings.kinds.cautions import cautions
from findings.kinds.hazards import hazard
from findings.kinds.pricing import reference_density_kg_per_m3
from findings.physics import safety
from findings.physics.estimate import Reason
from findings.physics.gases import GASES, Gas, find_gas
from findings.physics.reference_states import DEFAULT_STATE

STANDARD_ATMOSPHERE_PA = 101325.0
ROOM_K = 293.15
RELEASING: Final = frozenset({Hazard.GAS, Hazard.OXYGEN, Hazard.INERT})
CARBON_DIOXIDE_LIMIT: Final = 0.005
"""5000 ppm over a working day: 29 CFR 1910.1000 table Z-1, from memory."""

NOTICE: Final = (
    "An estimate for the competent person, never a clearance. It takes a steady release evenly mixed into "
    "clean air; real gas collects in pits, under ceilings and in closed rooms. Local codes and the site's "
    "gas contact decide, and only a suitable gas test tells whether the air is safe."
)


class ReleaseClass(StrEnum):
    """How large a release is, by the clean air that thins it; our words and our judgement."""

    SMALL = "small"
    MODERATE = "moderate"
    LARGE = "large"
    VERY_LARGE = "very_large"
    UNKNOWN = "unknown"


CLASS_UP_TO_M3_PER_S: Final = (
    (ReleaseClass.SMALL, 0.005),
    (ReleaseClass.MODERATE, 0.05),
    (ReleaseClass.LARGE, 0.5),
)
"""Least clean air at the strictest aim, by the upper end of the interval (judgement): 18, 180, 1800 m3/h."""

CLASS_TEXTS: Final = MappingProxyType(
    {
        ReleaseClass.SMALL: "Small, and still enough to fill a pit, a duct or a cabinet.",
        ReleaseClass.MODERATE: "Moderate: more than a closed room usually changes by itself.",
        ReleaseClass.LARGE: "Large: only strong forced airing would thin it.",
        ReleaseClass.VERY_LARGE: "Very large: no usual airing thins it.",
        ReleaseClass.UNKNOWN: "Not known: treat it as very large until somebody knows it.",
    }
)


class Amount(NamedTuple):
    """A figure with its 95 % interval, all in the unit that its name says."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Dilution:
    """The least clean air in m3/s, theoretical, that keeps a well-mixed place at an aim.

    ``limit_fraction`` is the volume fraction aimed at: of the gas, or of oxygen.
    """

    key: str
    text: str
    limit_fraction: float
    fresh_air_m3_per_s: Amount
    source: str


@dataclass(frozen=True, slots=True)
class Release:
    """A dangerous release: mass flow in kg/s, its class, and the air that would thin it."""

    mass_kg_per_s: Amount | None
    release_class: ReleaseClass
    class_text: str
    dilutions: tuple[Dilution, ...]
    reasons: tuple[Reason, ...]
    caution_keys: tuple[str, ...]
    notice: str = NOTICE


def release_of(
    kind: Kind,
    medium: Medium | None,
    *,
    gas_name: str = "",
    rate_m3_per_s: Amount | None,
    atmosphere_pa: float = STANDARD_ATMOSPHERE_PA,
) -> Release | None:
    """Return the release of a finding; None where what escapes is no fuel gas, oxygen or inert gas.

    ``rate_m3_per_s`` is at 1 bar, 20 °C, None where it isn't known; an unknown medium counts as an
    unknown gas. The air is taken at 20 °C and the site's pressure.
    """
    named = medium or Medium.OTHER
    if kind is not Kind.PRESSURE_LEAK or hazard(kind, named).hazard not in RELEASING:
        return None
    keys = tuple(caution.key for caution in cautions(kind, named))
    gas = _gas_of(named, gas_name)
    reasons: list[Reason] = []
    if rate_m3_per_s is None:
        text = "Nobody knows yet how much escapes: measure it only where the gas contact allows."
        reasons.append(Reason("release_rate_unknown", text))
    if gas is None:
        text = "The gas isn't known or has no data here: take it as flammable, poisonous and suffocating."
        reasons.append(Reason("gas_unknown", text))
    if rate_m3_per_s is None or gas is None:
        return _release(None, (), tuple(reasons), keys)
    if named is Medium.NATURAL_GAS:
        reasons.append(Reason("natural_gas_as_methane", "Natural gas is computed as methane."))
    density = reference_density_kg_per_m3(named, gas_name)
    mass = None if density is None else _times(rate_m3_per_s, float(density))
    return _release(mass, _dilutions(gas, rate_m3_per_s, mass, atmosphere_pa), tuple(reasons), keys)


def release_to_json(release: Release) -> dict[str, Any]:
    """Return a release in plain JSON types, the notice first, every unit in its name."""
    return {
        "notice": release.notice,
        "caution_keys": list(release.caution_keys),
        "release_class": release.release_class.value,
        "class_text": release.class_text,
        **_ends("mass", "kg_per_s", release.mass_kg_per_s),
        "dilutions": [
            {
                "key": dilution.key,
                "text": dilution.text,
                "limit_fraction": dilution.limit_fraction,
                **_ends("fresh_air", "m3_per_s", dilution.fresh_air_m3_per_s),
                "source": dilution.source,
            }
            for dilution in release.dilutions
        ],
        "reasons": [reason._asdict() for reason in release.reasons],
    }


def _ends(name: str, unit: str, amount: Amount | None) -> dict[str, float | None]:
    value, low, high = (None, None, None) if amount is None else amount
    return {f"{name}_{unit}": value, f"{name}_low_{unit}": low, f"{name}_high_{unit}": high}


def _release(
    mass: Amount | None, dilutions: tuple[Dilution, ...], reasons: tuple[Reason, ...], keys: tuple[str, ...]
) -> Release:
    found = _class_of(dilutions)
    return Release(mass, found, CLASS_TEXTS[found], dilutions, reasons, keys)


def _class_of(dilutions: tuple[Dilution, ...]) -> ReleaseClass:
    if not dilutions:
        return ReleaseClass.UNKNOWN
    most = max(dilution.fresh_air_m3_per_s.high for dilution in dilutions)
    return next((name for name, up_to in CLASS_UP_TO_M3_PER_S if most <= up_to), ReleaseClass.VERY_LARGE)


def _dilutions(gas: Gas, rate: Amount, mass: Amount | None, atmosphere_pa: float) -> tuple[Dilution, ...]:
    if gas.key in safety.FLAMMABLE_LIMITS:
        return () if mass is None else _of_fuel(gas, mass, atmosphere_pa)
    volume = _times(rate, DEFAULT_STATE.pressure_pa / atmosphere_pa * ROOM_K / DEFAULT_STATE.temperature_k)
    if gas.key == "oxygen":
        return (_of_oxygen(volume),)
    if gas.key == "air":
        return ()
    suffocating = _of_suffocating(volume)
    return (suffocating, _of_carbon_dioxide(volume)) if gas.key == "carbon_dioxide" else (suffocating,)


def _of_fuel(gas: Gas, mass: Amount, atmosphere_pa: float) -> tuple[Dilution, ...]:
    """Return the air for a quarter and a half of the lowest published lower flammable limit."""
    limit = safety.lowest_flammable_limit(gas.key)
    density = safety.limit_as_density_kg_per_m3(
        limit.lower, gas.molar_mass_kg_per_mol, pressure_pa=atmosphere_pa, temperature_k=ROOM_K
    )
    return tuple(
        Dilution(
            key,
            f"{100 * part:.0f} % of the lower flammable limit, which is {100 * limit.lower:.1f} % by volume",
            part * limit.lower,
            _times(mass, safety.least_fresh_air_m3_per_s(1.0, density, factor=part, temperature_k=ROOM_K)),
            f"{limit.source}; form of the earlier EN 60079-10, from memory",
        )
        for key, part in (
            ("quarter_of_lower_limit", safety.PRIMARY_RELEASE_FACTOR),
            ("half_of_lower_limit", safety.SECONDARY_RELEASE_FACTOR),
        )
    )


def _of_oxygen(volume: Amount) -> Dilution:
    """Return the air that keeps oxygen below the enriched level, from the balance of a well-mixed place."""
    level = safety.OXYGEN_ENRICHED
    return Dilution(
        "oxygen_enriched",
        f"{100 * level:.1f} % oxygen, above which a place counts as enriched",
        level,
        _times(volume, (1.0 - level) / (level - safety.OXYGEN_IN_AIR)),
        "29 CFR 1910.146(b)",
    )


def _of_suffocating(volume: Amount) -> Dilution:
    """Return the air that keeps oxygen above the deficient level, from the balance of a well-mixed place."""
    level = safety.OXYGEN_DEFICIENT
    return Dilution(
        "oxygen_deficient",
        f"{100 * level:.1f} % oxygen, below which a place counts as deficient",
        level,
        _times(volume, level / (safety.OXYGEN_IN_AIR - level)),
        "29 CFR 1910.146(b)",
    )


def _of_carbon_dioxide(volume: Amount) -> Dilution:
    """Return the air that keeps carbon dioxide at its working-day limit: it harms before oxygen lacks."""
    return Dilution(
        "carbon_dioxide_harms",
        "0.5 % carbon dioxide, the limit of a working day: it harms long before oxygen lacks",
        CARBON_DIOXIDE_LIMIT,
        _times(volume, (1.0 - CARBON_DIOXIDE_LIMIT) / CARBON_DIOXIDE_LIMIT),
        "29 CFR 1910.1000 table Z-1, from memory",
    )


def _gas_of(medium: Medium, gas_name: str) -> Gas | None:
    if medium is Medium.NATURAL_GAS:
        return GASES["methane"]
    return find_gas(gas_name if medium is Medium.OTHER else medium.value)


def _times(amount: Amount, factor: float) -> Amount:
    return Amount(amount.value * factor, amount.low * factor, amount.high * factor)
