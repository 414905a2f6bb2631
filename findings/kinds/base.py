"""The kinds of finding, the media they lose and the classes of danger they carry."""

from enum import StrEnum


class Kind(StrEnum):
    """Name what an inspector heard."""

    PRESSURE_LEAK = "pressure_leak"
    VACUUM_LEAK = "vacuum_leak"
    ENCLOSURE_LEAK = "enclosure_leak"
    MECHANICAL_WEAR = "mechanical_wear"
    ELECTRICAL_DISCHARGE = "electrical_discharge"


class Medium(StrEnum):
    """Name what a supply system carries; ``OTHER`` is a gas named beside it."""

    COMPRESSED_AIR = "compressed_air"
    NITROGEN = "nitrogen"
    OXYGEN = "oxygen"
    ARGON = "argon"
    CARBON_DIOXIDE = "carbon_dioxide"
    HYDROGEN = "hydrogen"
    NATURAL_GAS = "natural_gas"
    PROPANE = "propane"
    STEAM = "steam"
    VACUUM = "vacuum"
    OTHER = "other"


FUEL_GASES = frozenset({Medium.NATURAL_GAS, Medium.PROPANE, Medium.HYDROGEN})
INERT_GASES = frozenset({Medium.NITROGEN, Medium.ARGON, Medium.CARBON_DIOXIDE})


class Hazard(StrEnum):
    """Name the danger a person meets first at a finding."""

    NONE = "none"
    PRESSURE = "pressure"
    VACUUM = "vacuum"
    GAS = "gas"
    OXYGEN = "oxygen"
    INERT = "inert"
    STEAM = "steam"
    ROTATION = "rotation"
    ELECTRICAL = "electrical"
