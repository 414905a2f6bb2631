"""Which danger a finding carries, and whether it counts as a safety finding."""

from typing import NamedTuple

from findings.kinds.base import FUEL_GASES, INERT_GASES, Hazard, Kind, Medium


class HazardClass(NamedTuple):
    """The danger met first, and whether safety rules (shortest clocks, two people to defer) apply."""

    hazard: Hazard
    safety: bool


_BY_KIND = {
    Kind.VACUUM_LEAK: HazardClass(Hazard.VACUUM, safety=False),
    Kind.MECHANICAL_WEAR: HazardClass(Hazard.ROTATION, safety=False),
    Kind.ELECTRICAL_DISCHARGE: HazardClass(Hazard.ELECTRICAL, safety=True),
}
_BY_MEDIUM = {
    **{gas: HazardClass(Hazard.GAS, safety=True) for gas in FUEL_GASES},
    **{gas: HazardClass(Hazard.INERT, safety=True) for gas in INERT_GASES},
    Medium.OXYGEN: HazardClass(Hazard.OXYGEN, safety=True),
    Medium.STEAM: HazardClass(Hazard.STEAM, safety=True),
    # An unnamed gas may burn, poison or suffocate: the strictest class until somebody names it.
    Medium.OTHER: HazardClass(Hazard.GAS, safety=True),
    Medium.VACUUM: HazardClass(Hazard.VACUUM, safety=False),
}


def hazard(kind: Kind, medium: Medium | None) -> HazardClass:
    """Return the danger of a kind of finding on a medium; None is a finding without a medium."""
    if kind in _BY_KIND:
        return _BY_KIND[kind]
    if medium in _BY_MEDIUM:
        return _BY_MEDIUM[medium]
    air = Hazard.PRESSURE if kind is Kind.PRESSURE_LEAK else Hazard.NONE
    return HazardClass(air, safety=False)
