"""The cautions that go out with a calculation's answer where the work behind it can hurt someone."""

from collections.abc import Iterable

from findings.kinds.base import Kind, Medium
from findings.kinds.calculations import schemas
from findings.kinds.calculations.calculation import Json
from findings.kinds.cautions import CAUTIONS, Caution, cautions
from findings.physics.safety import FLAMMABLE_LIMITS, CautionKey

MEDIA = {
    "air": Medium.COMPRESSED_AIR,
    "nitrogen": Medium.NITROGEN,
    "oxygen": Medium.OXYGEN,
    "argon": Medium.ARGON,
    "carbon_dioxide": Medium.CARBON_DIOXIDE,
    "hydrogen": Medium.HYDROGEN,
    "helium": Medium.ARGON,  # no medium of its own; it displaces oxygen as argon does
    "methane": Medium.NATURAL_GAS,
    "propane": Medium.PROPANE,
}

CAUGHT_GAS = Caution(
    "caught_gas",
    "Never catch a fuel, oxygen or poisonous gas in a bag or vessel without the site's gas-safety permit: "
    "fuel gas and air pass through their explosive range in it. Local code and licensed people decide.",
    "common practice",
)

CAUTIONS_ANSWER = schemas.listing(
    schemas.answer(
        {
            "key": {"type": "string", "description": "Stable, for programs."},
            "text": {"type": "string", "description": "What to mind; local codes and site rules come first."},
            "basis": {"type": "string", "description": "The public rule it rests on."},
        }
    ),
    "What to mind at the work behind this figure; they remind, they don't authorise.",
)


def of_gas(gas: str, *more: Caution) -> list[Json]:
    """Return ``more`` and then the cautions of a pressure leak of a gas."""
    return listed((*more, *cautions(Kind.PRESSURE_LEAK, MEDIA[gas])))


def of_release(gas: str) -> list[Json]:
    """Return the cautions for a room that a gas is released into; any gas may be asked about."""
    if gas in MEDIA:
        return of_gas(gas)
    keys = (CautionKey.FUEL_GAS,) if gas in FLAMMABLE_LIMITS else ()
    return of_keys(*keys, CautionKey.NOT_A_GAS_TEST, CautionKey.CONFINED_SPACE, CautionKey.ISOLATE)


def of_keys(*keys: CautionKey) -> list[Json]:
    """Return the cautions of these keys."""
    return listed(CAUTIONS[key] for key in keys)


def listed(kept: Iterable[Caution]) -> list[Json]:
    """Return cautions as ``CAUTIONS_ANSWER`` describes them."""
    return [caution._asdict() for caution in kept]
