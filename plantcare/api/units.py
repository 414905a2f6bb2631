"""Re-render SI figures in the units that the caller asked for.

The table stands at settings.PLANTCARE_UNIT_TABLE and has the form
``{"us": {"_gauge_pa": ("_psig", to_psig)}}``: a member whose name ends so is renamed and its
number converted, exact text too; the longest ending wins. An ending behind ``_per`` belongs to a price
or a factor (``price_per_kg``) and stays. SI answers pass untouched.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django.conf import settings
from django.utils.module_loading import import_string

from plantcare.api.problems import FieldError, Invalid

SI = "si"
Conversion = tuple[str, Callable[[float], float]]
Table = Mapping[str, Mapping[str, Conversion]]
_EXACT = re.compile(r"-?\d{1,30}(\.\d{1,40})?", re.ASCII)


@lru_cache(maxsize=4)
def _load(path: str) -> Table:
    table: Table = import_string(path)
    return table


def table() -> Table:
    """Return the conversions by unit system; empty where the settings name none."""
    path = getattr(settings, "PLANTCARE_UNIT_TABLE", "")
    return _load(path) if path else {}


def systems() -> list[str]:
    """Return the unit systems that a caller can ask for, SI first."""
    return [SI, *table()]


def asked_for(query: Mapping[str, str]) -> str:
    """Return the asked system; raise Invalid for an unknown one."""
    system = query.get("units", SI)
    if system not in systems():
        detail = f"One of {', '.join(systems())}."
        raise Invalid(errors=[FieldError("?units", "invalid_choice", detail)])
    return system


def rendered(data: Any, system: str) -> Any:
    """Return the document in the system; a new one, the given stays as it is."""
    if system == SI:
        return data
    endings = sorted(table()[system].items(), key=lambda item: -len(item[0]))
    return _walk(data, endings)


def _walk(value: Any, endings: list[tuple[str, Conversion]]) -> Any:
    if isinstance(value, Mapping):
        return dict(_member(str(name), inner, endings) for name, inner in value.items())
    if isinstance(value, list | tuple):
        return [_walk(inner, endings) for inner in value]
    return value


def _member(name: str, value: Any, endings: list[tuple[str, Conversion]]) -> tuple[str, Any]:
    for ending, (replacement, convert) in endings:
        if name.endswith(ending) and not name.endswith(f"_per{ending}"):
            return name[: -len(ending)] + replacement, _converted(value, convert, endings)
    return name, _walk(value, endings)


def _converted(value: Any, convert: Callable[[float], float], endings: list[tuple[str, Conversion]]) -> Any:
    """Convert a number, each number of a list, or the bounds of an interval."""
    if isinstance(value, bool):
        return value
    if isinstance(value, str):
        exact = _EXACT.fullmatch(value)
        return format(Decimal(repr(float(convert(float(value))))), "f") if exact else value
    if isinstance(value, int | float):
        return convert(value)
    if isinstance(value, list | tuple):
        return [_converted(inner, convert, endings) for inner in value]
    if isinstance(value, Mapping):
        return {name: _converted(inner, convert, endings) for name, inner in value.items()}
    return value
