"""The five kinds of finding by name."""

from collections.abc import Mapping
from types import MappingProxyType

from findings.kinds import electrical_discharge, enclosure_leak, mechanical_wear, pressure_leak, vacuum_leak
from findings.kinds.base import Kind
from findings.kinds.definition import KindOfFinding

KINDS: Mapping[Kind, KindOfFinding] = MappingProxyType(
    {
        module.DEFINITION.kind: module.DEFINITION
        for module in (pressure_leak, vacuum_leak, enclosure_leak, mechanical_wear, electrical_discharge)
    }
)


def kind_of(kind: Kind | str) -> KindOfFinding:
    """Return the definition of a kind; raises ValueError for a word that names none."""
    return KINDS[Kind(kind)]
