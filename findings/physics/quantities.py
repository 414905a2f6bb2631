"""Exact conversion of the units people write, and the SI field names an interface may rename."""

import difflib
import math
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import NamedTuple, overload

from findings.physics.unit_table import ROWS, STANDARD_ATMOSPHERE_PA

DECIMAL_DIGITS = 34
LARGEST = 1e60
LARGEST_EXPONENT = 60
ALTITUDE_LIMITS_M = (-500.0, 11000.0)


class UnknownUnit(ValueError):
    """Raised for a spelling no unit answers to; ``suggestions`` holds the nearest symbols."""

    def __init__(self, text: str, suggestions: tuple[str, ...]) -> None:
        """Keep the text that was read and the symbols nearest to it."""
        hint = f"; did you mean {', '.join(suggestions)}?" if suggestions else ""
        super().__init__(f"unknown unit {text[:40]!r}{hint}")
        self.text = text
        self.suggestions = suggestions


class IncompatibleUnits(ValueError):
    """Raised for two units of different dimension, or gauge against absolute pressure."""


SI_UNITS: Mapping[str, str] = {
    "length": "m",
    "area": "m2",
    "volume": "m3",
    "time": "s",
    "mass": "kg",
    "power": "W",
    "energy": "J",
    "specific energy": "J/m3",
    "speed": "m/s",
    "frequency": "Hz",
    "ratio": "1",
    "temperature": "K",
    "pressure": "Pa",
    "volume flow": "m3/s",
    "mass flow": "kg/s",
}


@dataclass(frozen=True)
class Unit:
    """A unit: one of it is ``factor`` SI units, its zero stands at ``offset`` SI units.

    ``reference`` is "gauge" or "absolute" for a pressure, "normal", "standard" or "free air" for
    a volume flow, and None where the spelling doesn't say.
    """

    symbol: str
    dimension: str
    reference: str | None
    factor: Fraction
    offset: Fraction


def spelling_key(text: str) -> str:
    """Return a spelling without spaces, carets and dots, powers as plain digits; letter case stays."""
    plain = unicodedata.normalize("NFKC", text).replace(" per ", "/")
    return "".join(sign for sign in plain if not sign.isspace() and sign not in "_^.·*")


def _index() -> tuple[dict[str, Unit], dict[str, tuple[Unit, ...]]]:
    """Return units by exact key, and by key without letter case (several where they clash)."""
    exact: dict[str, Unit] = {}
    folded: dict[str, tuple[Unit, ...]] = {}
    for row in ROWS:
        unit = Unit(row.symbol, row.dimension, row.reference, row.factor, row.offset)
        for spelling in (row.symbol, *row.spellings):
            key = spelling_key(spelling)
            exact.setdefault(key, unit)
            known = folded.get(key.casefold(), ())
            if exact[key] not in known:
                folded[key.casefold()] = (*known, exact[key])
    return exact, folded


_EXACT, _FOLDED = _index()


def parse_unit(text: str) -> Unit:
    """Return the unit a person meant by ``text``.

    Letter case counts only where it must: "mPa" and "MPa" are two units, so "mpa" is refused.
    Raises UnknownUnit with the nearest symbols.
    """
    key = spelling_key(text[:60])
    if key in _EXACT:
        return _EXACT[key]
    found = _FOLDED.get(key.casefold(), ())
    if len(found) == 1:
        return found[0]
    if found:
        raise UnknownUnit(text, tuple(unit.symbol for unit in found))
    near = difflib.get_close_matches(key.casefold(), _FOLDED, n=6, cutoff=0.6)
    symbols = dict.fromkeys(_FOLDED[word][0].symbol for word in near)
    raise UnknownUnit(text, tuple(symbols)[:3])


def _as_unit(unit: Unit | str) -> Unit:
    """Return a unit given itself or a spelling."""
    return parse_unit(unit) if isinstance(unit, str) else unit


def _check_compatible(unit: Unit, to: Unit) -> None:
    """Raise IncompatibleUnits unless a factor and an offset lead from one unit to the other."""
    if unit.dimension != to.dimension:
        msg = f"{unit.symbol} is a {unit.dimension}, {to.symbol} a {to.dimension}"
        raise IncompatibleUnits(msg)
    if unit.reference and to.reference and unit.reference != to.reference:
        msg = f"{unit.symbol} is {unit.reference}, {to.symbol} {to.reference}"
        raise IncompatibleUnits(msg)


def _check_size(value: float | Decimal) -> None:
    """Raise ValueError for a number that isn't finite or whose exponent would fill the memory."""
    size = value.adjusted() if isinstance(value, Decimal) and value.is_finite() else 0
    if not math.isfinite(value) or abs(size) > LARGEST_EXPONENT or abs(float(value)) > LARGEST:
        msg = "a quantity must be a finite number of a sane size"
        raise ValueError(msg)


@overload
def convert(value: float, unit: Unit | str, to: Unit | str) -> float: ...
@overload
def convert(value: Decimal, unit: Unit | str, to: Unit | str) -> Decimal: ...
def convert(value: float | Decimal, unit: Unit | str, to: Unit | str) -> float | Decimal:
    """Return ``value`` of ``unit`` in ``to``, computed exactly and rounded once.

    Floats give floats; decimals give decimals of 34 digits. A unit without a reference mixes with
    either reference of its kind as a mere scale. Raises UnknownUnit, IncompatibleUnits, and
    ValueError for a value that isn't finite or exceeds 10^60.
    """
    source, target = _as_unit(unit), _as_unit(to)
    _check_compatible(source, target)
    _check_size(value)
    exact = (Fraction(value) * source.factor + source.offset - target.offset) / target.factor
    if isinstance(value, Decimal):
        with localcontext() as context:
            context.prec = DECIMAL_DIGITS
            return Decimal(exact.numerator) / Decimal(exact.denominator)
    return float(exact)


def gauge_to_absolute_pa(gauge_pa: float, atmosphere_pa: float) -> float:
    """Return the absolute pressure in Pa of a gauge pressure over the given atmosphere."""
    return gauge_pa + atmosphere_pa


def absolute_to_gauge_pa(absolute_pa: float, atmosphere_pa: float) -> float:
    """Return the gauge pressure in Pa of an absolute pressure over the given atmosphere."""
    return absolute_pa - atmosphere_pa


def standard_atmosphere_pa(altitude_m: float) -> float:
    """Return the pressure in Pa of the standard atmosphere at an altitude in m.

    Valid from -500 m to 11 000 m, else ValueError. Source: ASHRAE Handbook of Fundamentals,
    psychrometrics chapter, 101325 (1 - 2.25577e-5 h)^5.2559.
    """
    lowest, highest = ALTITUDE_LIMITS_M
    if not lowest <= altitude_m <= highest:
        msg = f"altitude must lie between {lowest:g} m and {highest:g} m"
        raise ValueError(msg)
    return float(STANDARD_ATMOSPHERE_PA) * float((1.0 - 2.25577e-5 * altitude_m) ** 5.2559)


class Rendering(NamedTuple):
    """How a field is shown in another system: the suffix it gets and its conversion."""

    suffix: str
    render: Callable[[float | Decimal], float | Decimal]


def _rendering(suffix: str, unit: str, to: str) -> Rendering:
    """Return the rendering that converts ``unit`` to ``to`` and renames to ``suffix``."""
    source, target = parse_unit(unit), parse_unit(to)
    return Rendering(suffix, lambda value: convert(value, source, target))


def _difference(suffix: str, factor: Fraction) -> Rendering:
    """Return the rendering of a temperature difference, which has no zero to shift."""
    scale = Unit("difference", "temperature difference", None, 1 / factor, Fraction(0))
    kelvin = Unit("K", "temperature difference", None, Fraction(1), Fraction(0))
    return Rendering(suffix, lambda value: convert(value, kelvin, scale))


RENDERED: Mapping[str, Mapping[str, Rendering]] = {
    "us": {
        "_gauge_pa": _rendering("_psig", "Pa", "psi"),
        "_absolute_pa": _rendering("_psia", "Pa", "psi"),
        "_pa": _rendering("_psi", "Pa", "psi"),
        "_m3_per_s": _rendering("_cfm", "m3/s", "cfm"),
        "_m3": _rendering("_ft3", "m3", "ft3"),
        "_kg_per_s": _rendering("_lb_per_h", "kg/s", "lb/h"),
        "_kg_per_hour": _rendering("_lb_per_hour", "kg", "lb"),
        "_kg": _rendering("_lb", "kg", "lb"),
        "_difference_k": _difference("_difference_f", Fraction(9, 5)),
        "_u_k": _difference("_u_f", Fraction(9, 5)),
        "_k": _rendering("_f", "K", "°F"),
        "diameter_m": _rendering("diameter_in", "m", "in"),
        "diameter_u_m": _rendering("diameter_u_in", "m", "in"),
        "_m": _rendering("_ft", "m", "ft"),
        "_m2": _rendering("_in2", "m2", "in2"),
        "_j_per_m3": _rendering("_kw_per_100_cfm", "J/m3", "kW/100 cfm"),
        "_j": _rendering("_kwh", "J", "kWh"),
        "_w": _rendering("_kw", "W", "kW"),
    },
    "metric": {
        "_gauge_pa": _rendering("_bar_g", "Pa", "bar"),
        "_absolute_pa": _rendering("_bar_a", "Pa", "bar"),
        "_pa": _rendering("_bar", "Pa", "bar"),
        "_m3_per_s": _rendering("_m3_per_h", "m3/s", "m3/h"),
        "_kg_per_s": _rendering("_kg_per_h", "kg/s", "kg/h"),
        "_difference_k": _difference("_difference_celsius", Fraction(1)),
        "_u_k": _difference("_u_celsius", Fraction(1)),
        "_k": _rendering("_celsius", "K", "°C"),
        "diameter_m": _rendering("diameter_mm", "m", "mm"),
        "diameter_u_m": _rendering("diameter_u_mm", "m", "mm"),
        "_m2": _rendering("_mm2", "m2", "mm2"),
        "_j_per_m3": _rendering("_kwh_per_m3", "J/m3", "kWh/m3"),
        "_j": _rendering("_kwh", "J", "kWh"),
        "_w": _rendering("_kw", "W", "kW"),
    },
}


def rendering_of(field: str, system: str) -> tuple[str, Rendering] | None:
    """Return the new field name and the rendering of an SI field, or None where it stays as it is.

    The longest matching suffix wins. A suffix after ``_per`` is part of a price or a factor
    (``price_per_m3``) and never matches. Raises KeyError for an unknown system.
    """
    table = RENDERED[system]
    for suffix in sorted(table, key=len, reverse=True):
        stem = field.removesuffix(suffix)
        if stem != field:
            return None if stem.endswith("_per") else (stem + table[suffix].suffix, table[suffix])
    return None
