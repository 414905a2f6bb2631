"""The calculations offered by name. A new family is a module with ``ROWS`` and a line here."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from findings.kinds.calculations import balances, batches, costs, direct, openings
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import check

CALCULATIONS: Mapping[str, Calculation] = MappingProxyType(
    {row.name: row for family in (openings, batches, direct, balances, costs) for row in family.ROWS}
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
