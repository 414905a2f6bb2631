"""How figures are written: money, flows, pressures, times; one place for digits and units."""

import math
from collections.abc import Mapping
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from types import MappingProxyType
from typing import Final
from zoneinfo import ZoneInfo

from findings.physics.quantities import convert

THIN: Final = "\u202f"
NOTHING: Final = "–"
HOURS_PER_YEAR: Final = Decimal(8760)
LITRES_UP_TO_M3_PER_S: Final = 10.0 / 3600
"""Below this a metric flow is written in l/min."""

_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_WHOLE_CURRENCIES: Final = frozenset({"JPY", "KRW", "CLP", "ISK", "VND"})

_LENGTH: Final[Mapping[str, tuple[str, str]]] = MappingProxyType({"metric": ("m", "m"), "us": ("ft", "ft")})
_WIDTH: Final[Mapping[str, tuple[str, str]]] = MappingProxyType({"metric": ("mm", "mm"), "us": ("in", "in")})
_PRESSURE: Final[Mapping[str, str]] = MappingProxyType({"metric": "bar", "us": "psi"})
_MASS_FLOW: Final[Mapping[str, str]] = MappingProxyType({"metric": "kg/h", "us": "lb/h"})
_TEMPERATURE: Final[Mapping[str, str]] = MappingProxyType({"metric": "°C", "us": "°F"})

Number = int | float | Decimal


def grouped(value: Number, digits: int = 0) -> str:
    """Write a number with a thin space between thousands and so many decimals, half away from zero."""
    exact = Decimal(str(value)) if isinstance(value, float) else Decimal(value)
    if not exact.is_finite():
        return NOTHING
    rounded = exact.quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP)
    text = f"{rounded:,f}".replace(",", THIN)
    return text.replace("-", "−")


def significant(value: float, digits: int = 3) -> str:
    """Write a measured number with so many significant digits and no false zeros before the point."""
    if not math.isfinite(value):
        return NOTHING
    if value == 0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    return grouped(round(value, decimals), max(decimals, 0))


def money(amount: Decimal | None, currency: str, digits: int | None = None) -> str:
    """Write an amount with its ISO currency behind it; None is a dash, never zero."""
    if amount is None:
        return NOTHING
    usual = 0 if currency in _WHOLE_CURRENCIES else 2
    return f"{grouped(amount, usual if digits is None else digits)}\u00a0{currency}"


def flow(m3_per_s: Number | None, system: str) -> str:
    """Write a leak rate (m³/s at 1 bar, 20 °C) in l/min or m³/h, or in cfm."""
    if m3_per_s is None:
        return NOTHING
    unit, factor = _flow_unit(float(m3_per_s), system)
    return f"{significant(float(m3_per_s) * factor)}\u00a0{unit}"


def flow_range(low: Number | None, high: Number | None, system: str, digits: int = 3) -> str:
    """Write an interval of leak rates in one unit, the one its upper end is written in."""
    if low is None or high is None:
        return NOTHING
    unit, factor = _flow_unit(float(high), system)
    ends = [significant(float(end) * factor, digits) for end in (low, high)]
    return f"{ends[0]} to {ends[1]}\u00a0{unit}"


def flow_order(low: Number | None, high: Number | None, system: str) -> str:
    """Write a leak rate of which only the order of magnitude is known, and that nobody calibrated."""
    if low is None or high is None:
        return NOTHING
    return f"about {flow_range(low, high, system, digits=1)}, order of magnitude, not calibrated"


def mass_flow(kg_per_s: Number | None, system: str) -> str:
    """Write a mass flow (kg/s) in kg/h or lb/h."""
    return _written(None if kg_per_s is None else float(kg_per_s), "kg/s", _MASS_FLOW[system])


def mass_flow_range(low: Number | None, high: Number | None, system: str) -> str:
    """Write an interval of mass flows."""
    if low is None or high is None:
        return NOTHING
    unit = _MASS_FLOW[system]
    ends = (significant(convert(float(end), "kg/s", unit)) for end in (low, high))
    return f"{' to '.join(ends)}\u00a0{unit}"


def _flow_unit(m3_per_s: float, system: str) -> tuple[str, float]:
    if system == "us":
        return "cfm", convert(1.0, "m3/s", "cfm")
    return ("l/min", 60_000.0) if m3_per_s < LITRES_UP_TO_M3_PER_S else ("m³/h", 3600.0)


def pressure(gauge_pa: Number | None, system: str) -> str:
    """Write a gauge pressure in bar or psi."""
    return _written(gauge_pa, "Pa", _PRESSURE[system], "gauge")


def temperature(kelvin: Number | None, system: str) -> str:
    """Write a temperature in °C or °F, to whole degrees."""
    if kelvin is None:
        return NOTHING
    unit = _TEMPERATURE[system]
    return f"{grouped(convert(float(kelvin), 'K', unit))}\u00a0{unit}"


def length(metres: Number | None, system: str) -> str:
    """Write a distance in m or ft."""
    return _written(metres, "m", _LENGTH[system][0])


def width(metres: Number | None, system: str) -> str:
    """Write a hole's width in mm or in."""
    return _written(metres, "m", _WIDTH[system][0])


def level(decibels: Number | None) -> str:
    """Write a level in dB with one decimal at most."""
    if decibels is None:
        return NOTHING
    return f"{grouped(decibels, 0 if float(decibels).is_integer() else 1)}\u00a0dB"


def _written(value: Number | None, unit: str, to: str, reference: str = "") -> str:
    if value is None:
        return NOTHING
    tail = f"\u00a0{reference}" if reference else ""
    written = significant(convert(float(value), unit, to))
    if "." in written:
        written = written.rstrip("0").rstrip(".")
    return f"{written}\u00a0{to}{tail}"


def day(moment: datetime | date | None, zone: str) -> str:
    """Write a day by the site's zone: 3 Mar 2026."""
    if moment is None:
        return NOTHING
    on = moment.astimezone(ZoneInfo(zone)) if isinstance(moment, datetime) else moment
    return f"{on.day}\u00a0{_MONTHS[on.month - 1]}\u00a0{on.year:04d}"


def time_of(moment: datetime | None, zone: str) -> str:
    """Write a moment by the site's zone: 3 Mar 2026 14:05."""
    if moment is None:
        return NOTHING
    return f"{day(moment, zone)} {moment.astimezone(ZoneInfo(zone)):%H:%M}"


def month_name(month_on: date) -> str:
    """Write a month: Mar 2026."""
    return f"{_MONTHS[month_on.month - 1]} {month_on.year:04d}"


def age(since: datetime | None, at: datetime) -> str:
    """Write how long ago: hours, then days, never more exact than that is worth."""
    if since is None:
        return NOTHING
    passed = at - since
    if passed < timedelta(hours=1):
        return "under an hour"
    if passed < timedelta(days=2):
        hours = int(passed / timedelta(hours=1))
        return f"{hours}\u00a0hour{'s' if hours != 1 else ''}"
    return f"{grouped(passed.days)}\u00a0days"


def per_month(cost_per_hour: Decimal) -> Decimal:
    """Return the cost of a usual month: a twelfth of 8,760 hours."""
    return cost_per_hour * HOURS_PER_YEAR / 12


def rough(amount: Decimal) -> Decimal:
    """Round an amount that is only "about" to three significant digits, at least to whole units."""
    if amount < 100:
        return amount.quantize(Decimal(1), rounding=ROUND_HALF_UP)
    places = amount.adjusted() - 2
    return amount.quantize(Decimal(1).scaleb(places), rounding=ROUND_HALF_UP).quantize(Decimal(1))
