"""The units the service reads and writes, with exact factors and the spellings people use.

Every factor is a fraction built from defining constants, so that a conversion is rounded once,
at its end. Sources of the constants: the international yard and pound agreement of 1959
(inch 0.0254 m, pound 0.45359237 kg), the standard acceleration 9.80665 m/s2 and the standard
atmosphere 101 325 Pa (3rd CGPM 1901, 10th CGPM 1954), the US gallon of 231 cubic inches, the
conventional mercury density 13 595.1 kg/m3 and water density 1000 kg/m3 (ISO 80000-4 annex),
the International Table British thermal unit 1055.05585262 J (ISO 31-4). From memory.
"""

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

STANDARD_GRAVITY_M_PER_S2 = Fraction("9.80665")
STANDARD_ATMOSPHERE_PA = Fraction(101325)
INCH_M = Fraction("0.0254")
FOOT_M = 12 * INCH_M
POUND_KG = Fraction("0.45359237")
PSI_PA = POUND_KG * STANDARD_GRAVITY_M_PER_S2 / INCH_M**2
MERCURY_N_PER_M3 = Fraction("13595.1") * STANDARD_GRAVITY_M_PER_S2
WATER_N_PER_M3 = 1000 * STANDARD_GRAVITY_M_PER_S2
BTU_J = Fraction("1055.05585262")
KWH_J = Fraction(3600000)
CUBIC_FOOT_M3 = FOOT_M**3
MILLI = Fraction(1, 1000)
ZERO_CELSIUS_K = Fraction("273.15")
ZERO_FAHRENHEIT_K = Fraction("459.67") * Fraction(5, 9)


class Row(NamedTuple):
    """One unit: its symbol, dimension, SI size, SI value of its zero, reference, spellings."""

    symbol: str
    dimension: str
    factor: Fraction
    offset: Fraction
    reference: str | None
    spellings: tuple[str, ...]


def _rows(dimension: str, entries: dict[str, tuple[Fraction | int, str]]) -> Iterator[Row]:
    """Yield one plain row per entry ``symbol: (factor, "other spellings | ...")``."""
    for symbol, (factor, spellings) in entries.items():
        words = tuple(word.strip() for word in spellings.split("|") if word.strip())
        yield Row(symbol, dimension, Fraction(factor), Fraction(0), None, (symbol, *words))


_LENGTHS: dict[str, tuple[Fraction | int, str]] = {
    "m": (1, "metre | meter | metres | meters"),
    "mm": (MILLI, "millimetre | millimeter | millimetres | millimeters"),
    "cm": (10 * MILLI, "centimetre | centimeter"),
    "km": (1000, "kilometre | kilometer"),
    "in": (INCH_M, 'inch | inches | "'),
    "ft": (FOOT_M, "foot | feet | '"),
}
_AREAS: dict[str, tuple[Fraction | int, str]] = {
    "m2": (1, "sqm"),
    "mm2": (MILLI**2, "sqmm"),
    "cm2": ((10 * MILLI) ** 2, "sqcm"),
    "in2": (INCH_M**2, "sqin"),
}
_VOLUMES: dict[str, tuple[Fraction | int, str]] = {
    "m3": (1, "cbm | cum"),
    "l": (MILLI, "litre | liter | litres | liters | ltr | dm3"),
    "ml": (MILLI**2, "cm3 | cc"),
    "ft3": (CUBIC_FOOT_M3, "cuft | cf"),
    "gal": (231 * INCH_M**3, "gallon | gallons | usgal"),
}
_TIMES: dict[str, tuple[Fraction | int, str]] = {
    "s": (1, "sec | second | seconds"),
    "min": (60, "minute | minutes | mins"),
    "h": (3600, "hr | hrs | hour | hours"),
    "d": (86400, "day | days"),
}
_MASSES: dict[str, tuple[Fraction | int, str]] = {
    "kg": (1, "kilogram | kilograms | kilogramme"),
    "g": (MILLI, "gram | grams"),
    "lb": (POUND_KG, "lbs | pound | pounds | lbm"),
}
_POWERS: dict[str, tuple[Fraction | int, str]] = {
    "W": (1, "watt | watts"),
    "mW": (MILLI, ""),
    "kW": (1000, "kilowatt | kilowatts"),
    "MW": (1000000, ""),
    "hp": (550 * FOOT_M * POUND_KG * STANDARD_GRAVITY_M_PER_S2, "horsepower | bhp"),
}
_ENERGIES: dict[str, tuple[Fraction | int, str]] = {
    "J": (1, "joule | joules"),
    "kJ": (1000, ""),
    "MJ": (1000000, ""),
    "GJ": (1000000000, ""),
    "Wh": (3600, ""),
    "kWh": (KWH_J, "kilowatt hour | kilowatt hours"),
    "MWh": (1000 * KWH_J, ""),
    "Btu": (BTU_J, ""),
    "MMBtu": (1000000 * BTU_J, ""),
    "therm": (100000 * BTU_J, "therms"),
}
_SPECIFIC_ENERGIES: dict[str, tuple[Fraction | int, str]] = {
    "J/m3": (1, ""),
    "kJ/m3": (1000, ""),
    "MJ/m3": (1000000, ""),
    "kWh/m3": (KWH_J, ""),
    "Wh/m3": (3600, ""),
    "kW/(m3/min)": (60000, "kW/m3/min | kWmin/m3 | kW/m3min-1"),
    "kW/(l/s)": (1000000, "kW/l/s"),
    "kW/100 cfm": (1000 / (100 * CUBIC_FOOT_M3 / 60), "kW/(100 cfm)"),
}
_SPEEDS: dict[str, tuple[Fraction | int, str]] = {
    "m/s": (1, ""),
    "mm/s": (MILLI, ""),
    "in/s": (INCH_M, "ips"),
    "ft/min": (FOOT_M / 60, "fpm"),
}
_FREQUENCIES: dict[str, tuple[Fraction | int, str]] = {
    "Hz": (1, "hertz"),
    "kHz": (1000, ""),
    "rpm": (Fraction(1, 60), "1/min | r/min | rev/min"),
}
_RATIOS: dict[str, tuple[Fraction | int, str]] = {
    "1": (1, "ratio | share"),
    "%": (Fraction(1, 100), "percent | per cent | pct"),
}
_PRESSURES: dict[str, tuple[Fraction | int, str]] = {
    "Pa": (1, "pascal"),
    "mPa": (MILLI, ""),
    "hPa": (100, ""),
    "kPa": (1000, "kilopascal"),
    "MPa": (1000000, "megapascal"),
    "bar": (100000, "bars"),
    "mbar": (100, "millibar"),
    "psi": (PSI_PA, "lb/in2 | lbf/in2 | pounds per square inch"),
    "atm": (STANDARD_ATMOSPHERE_PA, ""),
    "kgf/cm2": (STANDARD_GRAVITY_M_PER_S2 * 10000, "kg/cm2"),
    "inHg": (MERCURY_N_PER_M3 * INCH_M, '"Hg'),
    "mmHg": (MERCURY_N_PER_M3 * MILLI, ""),
    "torr": (STANDARD_ATMOSPHERE_PA / 760, ""),
    "inH2O": (WATER_N_PER_M3 * INCH_M, "inwc | inwg"),
    "mmH2O": (WATER_N_PER_M3 * MILLI, "mmwc | mmwg"),
}


def _temperatures() -> Iterator[Row]:
    """Yield the thermometric scales; their zero differs from absolute zero."""
    fifth = Fraction(5, 9)
    yield Row("K", "temperature", Fraction(1), Fraction(0), None, ("K", "kelvin", "degK", "°K"))
    words: tuple[str, ...] = ("°C", "C", "degC", "celsius", "deg C", "centigrade")
    yield Row("°C", "temperature", Fraction(1), ZERO_CELSIUS_K, None, words)
    words = ("°F", "F", "degF", "fahrenheit", "deg F")
    yield Row("°F", "temperature", fifth, ZERO_FAHRENHEIT_K, None, words)
    words = ("°R", "degR", "rankine", "R")
    yield Row("°R", "temperature", fifth, Fraction(0), None, words)


def _pressures() -> Iterator[Row]:
    """Yield every pressure unit plain, gauge and absolute: psi, psig, psia."""
    endings = {
        "gauge": ("g", "(g)", "gauge", "(gauge)", "(ü)", "ü"),
        "absolute": ("a", "(a)", "abs", "absolute", "(abs)"),
    }
    for row in _rows("pressure", _PRESSURES):
        yield row
        for reference, words in endings.items():
            spellings = tuple(name + word for name in row.spellings for word in words)
            mark = words[0] if row.symbol == "psi" else words[1]
            yield row._replace(symbol=row.symbol + mark, reference=reference, spellings=spellings)


_FLOW_SHORT = {
    "m3/min": "cmm",
    "l/min": "lpm",
    "l/s": "lps",
    "ft3/min": "cfm",
    "ft3/h": "cfh",
    "gal/min": "gpm",
}


def _volume_flows() -> Iterator[Row]:
    """Yield volume per time as met, at the normal state, at a standard state and as free air."""
    for volume in _rows("volume", _VOLUMES):
        for time in _rows("time", _TIMES):
            symbol = f"{volume.symbol}/{time.symbol}"
            words = tuple(f"{v}/{t}" for v in volume.spellings for t in time.spellings)
            short = _FLOW_SHORT.get(symbol)
            words += (short,) if short else ()
            shown = short if symbol in {"ft3/min", "ft3/h"} and short else symbol
            plain = Row(shown, "volume flow", volume.factor / time.factor, Fraction(0), None, words)
            yield plain
            for reference, mark in (("normal", "N"), ("standard", "S")):
                lead = mark.lower() if shown.startswith("cf") else mark
                marked = tuple(mark + word for word in words)
                yield plain._replace(symbol=lead + shown, reference=reference, spellings=marked)
            free = tuple(word + "FAD" for word in words)
            yield plain._replace(symbol=shown + " FAD", reference="free air", spellings=free)


def _mass_flows() -> Iterator[Row]:
    """Yield mass per time."""
    for mass in _rows("mass", _MASSES):
        for time in _rows("time", _TIMES):
            words = tuple(f"{m}/{t}" for m in mass.spellings for t in time.spellings)
            symbol = f"{mass.symbol}/{time.symbol}"
            yield Row(symbol, "mass flow", mass.factor / time.factor, Fraction(0), None, words)


ROWS: tuple[Row, ...] = (
    *_rows("length", _LENGTHS),
    *_rows("area", _AREAS),
    *_rows("volume", _VOLUMES),
    *_rows("time", _TIMES),
    *_rows("mass", _MASSES),
    *_rows("power", _POWERS),
    *_rows("energy", _ENERGIES),
    *_rows("specific energy", _SPECIFIC_ENERGIES),
    *_rows("speed", _SPEEDS),
    *_rows("frequency", _FREQUENCIES),
    *_rows("ratio", _RATIOS),
    *_temperatures(),
    *_pressures(),
    *_volume_flows(),
    *_mass_flows(),
)
