"""CO2 of a gas that is burnt: carbon in, carbon dioxide out. Never for a gas that escapes."""

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import Final

from findings.physics.gases import GASES

CARBON_ATOMS: Final[Mapping[str, int]] = MappingProxyType({"methane": 1, "propane": 3})
CARBON_DIOXIDE_KG_PER_MOL: Final = Decimal("0.0440095")


def burnt_co2_kg_per_kg(gas: str) -> Decimal | None:
    """Return the CO2 in kg per kg of gas burnt whole, None where the gas brings no carbon to burn.

    Stoichiometry, 28 digits: methane 2.743, propane 2.994.
    """
    atoms = CARBON_ATOMS.get(gas)
    if atoms is None:
        return None
    return atoms * CARBON_DIOXIDE_KG_PER_MOL / Decimal(repr(GASES[gas].molar_mass_kg_per_mol))
