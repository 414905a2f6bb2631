"""The calculations offered by name. A new family is a module with ``ROWS`` and a line here."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from findings.kinds.calculations import (
    balances,
    batches,
    bearings,
    bought_gas,
    collecting,
    components,
    costs,
    direct,
    discharge,
    levels,
    metering,
    openings,
    plans,
    rhythms,
    room_air,
    savings,
    seals,
    steam_and_vacuum,
    systems,
    tariffs,
    vibration,
    wear,
    what_ifs,
)
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import check

FAMILIES = (
    openings,
    batches,
    steam_and_vacuum,
    components,
    direct,
    collecting,
    metering,
    systems,
    levels,
    balances,
    room_air,
    costs,
    savings,
    what_ifs,
    plans,
    tariffs,
    bought_gas,
    wear,
    vibration,
    bearings,
    seals,
    rhythms,
    discharge,
)
"""In the order in which they are listed: flow, sums, safety, money, wear, seals, discharge."""
CALCULATIONS: Mapping[str, Calculation] = MappingProxyType(
    {row.name: row for family in FAMILIES for row in family.ROWS}
)


class UnknownCalculation(ValueError):
    """Raised for a name no calculation has."""


def calculate(name: str, data: Any) -> Json:
    """Return the named calculation's result; raises UnknownCalculation or InvalidInput."""
    if name not in CALCULATIONS:
        msg = f"no calculation is named {name[:60]!r}"
        raise UnknownCalculation(msg)
    calculation = CALCULATIONS[name]
    problems = check(data, calculation.schema)
    if problems:
        raise InvalidInput(*problems)
    return calculation.run(data)


__all__ = ["CALCULATIONS", "Calculation", "InvalidInput", "UnknownCalculation", "calculate"]
