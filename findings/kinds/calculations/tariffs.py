"""What constant power costs under a time-of-use tariff, and what another tariff would make of it."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final
from zoneinfo import ZoneInfo

from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import exact
from findings.kinds.calculations.calculation import Calculation, Json
from findings.kinds.calculations.tariff_input import (
    BANDS,
    CURRENCY,
    DAYS,
    MOMENT,
    PARTS,
    WEEKLY,
    ZONE,
    parts_told,
    read_calendar,
    read_stretch,
    read_table,
    read_zone,
    rounded_fraction,
)
from findings.kinds.demand_charge import demand_charge
from findings.kinds.tariff import Part, TariffTable, cost_parts, mean_of, parts_of

TIME: Final = {
    "power_w": schemas.exact(10**9, "Constant power, W."),
    "start_at": MOMENT,
    "end_at": MOMENT,
    "time_zone": ZONE,
    "weekly": WEEKLY,
    "closed_days": {**DAYS, "description": "Days on which the plant stands still."},
    "currency": CURRENCY,
}
TARIFF_COST = schemas.inputs(
    ["power_w", "start_at", "end_at", "time_zone", "bands", "currency"],
    {
        **TIME,
        "bands": BANDS,
        "holidays": DAYS,
        "demand_charge_per_kw_month": schemas.exact(10**6, "Demand charge per kW and month."),
    },
)
TARIFF_CHANGE = schemas.inputs(
    ["power_w", "start_at", "end_at", "time_zone", "old_bands", "new_bands", "currency"],
    {**TIME, "old_bands": BANDS, "old_holidays": DAYS, "new_bands": BANDS, "new_holidays": DAYS},
)
DEMAND: Final = schemas.answer(
    {
        "least": schemas.money("What the power adds in the months that it fills."),
        "most": schemas.money("The same with the months that it only touches."),
        "whole_months": {"type": "integer", "description": "Months of the site that it fills."},
        "touched_months": {"type": "integer", "description": "Months that it touches at all."},
        "price_per_kw_month": schemas.money("The charge used."),
    }
)
TARIFF_COST_ANSWER = schemas.answer(
    {
        "cost": schemas.money("Cost of the energy; without any demand charge."),
        "energy_kwh": schemas.money("Energy, kWh."),
        "mean_price_per_kwh": schemas.money(
            "Cost over energy at constant power; null where no hour is left."
        ),
        "parts": PARTS,
        "currency": {"type": "string", "description": "ISO 4217 code of the money."},
    },
    {"demand_charge": {**DEMAND, "description": "Beside the cost, not in it."}},
)
TARIFF_CHANGE_ANSWER = schemas.answer(
    {
        "old_cost": schemas.money("Cost under the old table."),
        "new_cost": schemas.money("Cost under the new table."),
        "difference": schemas.money("New less old, rounded on its own: above 0 where the loss grows dearer."),
        "old_mean_price_per_kwh": schemas.money("Mean price of the old table."),
        "new_mean_price_per_kwh": schemas.money("Mean price of the new table."),
        "old_parts": PARTS,
        "new_parts": PARTS,
        "currency": {"type": "string", "description": "ISO 4217 code of the money."},
    }
)


def tariff_cost(data: Mapping[str, Any]) -> Json:
    """Return what a constant power costs over a stretch of time, with the prices in force."""
    zone, (start, end) = read_zone(data), read_stretch(data)
    power = exact(data, "power_w") or Decimal(0)
    parts = _parts(data, read_table(data["bands"], data.get("holidays", [])), start, end, zone)
    energy, money = _sums(power, parts)
    result: Json = {
        "cost": rounded_fraction(money, "0.01"),
        "energy_kwh": rounded_fraction(energy, "0.001"),
        "mean_price_per_kwh": _mean(parts),
        "parts": parts_told(parts),
        "currency": data["currency"],
    }
    charge = exact(data, "demand_charge_per_kw_month")
    if charge is not None:
        touched = demand_charge(charge, power, start, end, zone)
        result["demand_charge"] = {
            "least": rounded_fraction(touched.least, "0.01"),
            "most": rounded_fraction(touched.most, "0.01"),
            "whole_months": touched.whole_months,
            "touched_months": touched.touched_months,
            "price_per_kw_month": str(charge),
        }
    return result


def tariff_change(data: Mapping[str, Any]) -> Json:
    """Return what the same loss costs under two tables."""
    zone, (start, end) = read_zone(data), read_stretch(data)
    power = exact(data, "power_w") or Decimal(0)
    old, new = (
        _parts(
            data,
            read_table(
                data[f"{age}_bands"], data.get(f"{age}_holidays", []), f"/{age}_bands", f"/{age}_holidays"
            ),
            start,
            end,
            zone,
        )
        for age in ("old", "new")
    )
    (_, before), (_, after) = _sums(power, old), _sums(power, new)
    return {
        "old_cost": rounded_fraction(before, "0.01"),
        "new_cost": rounded_fraction(after, "0.01"),
        "difference": rounded_fraction(after - before, "0.01"),
        "old_mean_price_per_kwh": _mean(old),
        "new_mean_price_per_kwh": _mean(new),
        "old_parts": parts_told(old),
        "new_parts": parts_told(new),
        "currency": data["currency"],
    }


def _parts(
    data: Mapping[str, Any], table: TariffTable, start: datetime, end: datetime, zone: ZoneInfo
) -> tuple[Part, ...]:
    return parts_of(table, start, end, zone, read_calendar(data))


def _sums(power: Decimal, parts: tuple[Part, ...]) -> tuple[Fraction, Fraction]:
    """Return energy in kWh and money."""
    costs = cost_parts(power, parts)
    energy = sum((one.energy_kwh for one in costs), Fraction(0))
    return energy, sum((one.money for one in costs), Fraction(0))


def _mean(parts: tuple[Part, ...]) -> str | None:
    mean = mean_of(parts)
    return None if mean is None else rounded_fraction(mean.price_per_kwh, "0.000001")


_WORK, _REST = ["mon", "tue", "wed", "thu", "fri"], ["sat", "sun", "holiday"]
_NIGHT = [{"start": "00:00", "end": "06:00"}, {"start": "22:00", "end": "24:00"}]
_TWO_PRICES = [
    {"name": "day", "price_per_kwh": "0.24", "days": _WORK, "windows": [{"start": "06:00", "end": "22:00"}]},
    {"name": "night", "price_per_kwh": "0.17", "days": _WORK, "windows": _NIGHT},
    {
        "name": "rest",
        "price_per_kwh": "0.16",
        "days": _REST,
        "windows": [{"start": "00:00", "end": "24:00"}],
    },
]
_FLAT = [{"name": "flat", "price_per_kwh": "0.199", "windows": [{"start": "00:00", "end": "24:00"}]}]
_YEAR = {
    "power_w": "1850",
    "start_at": "2026-01-01T00:00:00+01:00",
    "end_at": "2027-01-01T00:00:00+01:00",
    "time_zone": "Europe/Berlin",
    "currency": "EUR",
}
ROWS = (
    Calculation(
        "tariff-cost",
        "What constant power costs under a time-of-use tariff",
        tariff_cost,
        TARIFF_COST,
        TARIFF_COST_ANSWER,
        {**_YEAR, "bands": _TWO_PRICES, "holidays": ["2026-12-25"], "demand_charge_per_kw_month": "9.50"},
        "Exact sum over the site's wall clock; days of 23 and 25 hours count as long as they are.",
    ),
    Calculation(
        "tariff-change",
        "The same loss under another tariff",
        tariff_change,
        TARIFF_CHANGE,
        TARIFF_CHANGE_ANSWER,
        {**_YEAR, "old_bands": _FLAT, "new_bands": _TWO_PRICES},
        "Exact sum over the site's wall clock, once for each table.",
    ),
)
