"""What would be if something were done about a supply system's leaks, as it is answered; nothing is kept."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

from findings.balance.queries import figures
from findings.balance.queries.losing import system_now
from findings.balance.rules import CAUTION as SHUT_OFF_CAUTION
from findings.balance.rules import (
    AtPrice,
    Basis,
    Effort,
    Repairs,
    Shutting,
    SystemNow,
    Wish,
    best_repairs,
    lower_pressure,
    other_price,
    shut_branch,
)
from findings.kinds.tariff import mean_price
from findings.kinds.tariff_reading import table_of
from findings.physics.header_pressure import PointOfUse
from findings.physics.uncertainty import Uncertain
from findings.planning.repair_plan import Budget
from findings.plant import queries as plant
from findings.supply import queries as supply
from findings.supply.models import SupplySystem

YEAR = timedelta(days=365)
PRICE_STEP = Decimal("1e-10")


def _now(system: SupplySystem, at: datetime) -> SystemNow:
    return system_now(system, at, supply.latest_leak_test(system.pk, at))


def _named(now: SystemNow) -> dict[str, Any]:
    return {"currency": now.currency, "findings": [figures.leak(one) for one in now.leaks]}


def header_pressure_answer(
    system: SupplySystem,
    at: datetime,
    *,
    after_pressure_gauge_pa: float,
    points_of_use: Sequence[Mapping[str, Any]] = (),
    stages: int = 1,
) -> dict[str, Any]:
    """Return what a lower header pressure (Pa gauge) would save."""
    now = _now(system, at)
    points = [
        PointOfUse(one["name"], one["least_pressure_gauge_pa"], one.get("loss_pa", 0.0))
        for one in points_of_use
    ]
    told = lower_pressure(now, after_pressure_gauge_pa, points, stages=stages)
    return {
        **_named(now),
        "before_pressure_gauge_pa": now.header_gauge_pa,
        "after_pressure_gauge_pa": after_pressure_gauge_pa,
        "leakage": None if told.leakage is None else figures.flow(told.leakage),
        "leak_factor": told.saving.leak_factor,
        "work_factor": told.saving.work_factor,
        "less_flow": figures.figure(told.saving.less_flow, "_w"),
        "less_work": figures.figure(told.saving.less_work, "_w"),
        "together": figures.figure(told.saving.together, "_w"),
        "saving": figures.money(told.yearly),
        "reasons": figures.reasons(told.reasons),
    }


def repair_plan_answer(
    system: SupplySystem,
    at: datetime,
    *,
    usual_cost: Decimal,
    usual_hours: Decimal,
    money_budget: Decimal | None = None,
    hours_budget: Decimal | None = None,
    years: Decimal = Decimal(1),
    basis: str = Basis.EXPECTED,
    repairs: Sequence[Mapping[str, Any]] = (),
) -> dict[str, Any]:
    """Return the open findings whose repair gains most within a budget of money and hours."""
    now = _now(system, at)
    wish = Wish(
        Budget(money_budget, hours_budget),
        Effort(usual_cost, usual_hours),
        years,
        Basis(basis),
        {one["finding_id"]: Effort(one["cost"], one["hours"]) for one in repairs},
    )
    told = best_repairs(now, wish)
    return {
        "currency": now.currency,
        "basis": wish.basis.value,
        "weighed": len(now.leaks),
        "findings": _chosen(told),
        **_plan(told),
        "together": None if told.together is None else figures.figure(told.together, "_w"),
        "together_saving": figures.money(told.yearly),
        "reasons": figures.reasons(told.reasons),
    }


def _chosen(told: Repairs) -> list[dict[str, Any]]:
    return [
        {
            **figures.leak(leak),
            "saving": figures.exact(one.saving),
            "cost": figures.exact(one.cost),
            "hours": figures.exact(one.hours),
            "is_mandatory": one.mandatory,
        }
        for leak, one in told.chosen
    ]


def _plan(told: Repairs) -> dict[str, Any]:
    if told.plan is None:
        names = ("saving", "cost", "hours", "net", "bound", "is_proven")
        return dict.fromkeys(names)
    return {
        "saving": figures.exact(told.plan.saving),
        "cost": figures.exact(told.plan.cost),
        "hours": figures.exact(told.plan.hours),
        "net": figures.exact(told.plan.net),
        "bound": figures.exact(told.plan.bound),
        "is_proven": told.plan.is_proven,
    }


def shut_off_answer(
    system: SupplySystem,
    at: datetime,
    *,
    hours_per_year: float,
    hours_u: float = 0.0,
    asset_id: uuid.UUID | None = None,
    area_id: uuid.UUID | None = None,
    refilled_m3: float = 0.0,
    refills_per_year: float = 0.0,
) -> dict[str, Any]:
    """Return what shutting an area, or an asset with its parts, off for some hours a year would save."""
    now = _now(system, at)
    told = shut_branch(
        now,
        Shutting(Uncertain(hours_per_year, hours_u), refilled_m3, refills_per_year),
        asset_ids=() if asset_id is None else set(plant.asset_subtree_ids(asset_id)),
        area_id=area_id,
    )
    return {
        "currency": now.currency,
        "findings": [figures.leak(one) for one in told.leaks],
        "leakage": figures.flow(told.flow),
        "energy": figures.figure(told.energy, "_kwh"),
        "saving": figures.money(told.yearly),
        "reasons": figures.reasons([SHUT_OFF_CAUTION, *now.station.remarks]),
    }


def tariff_answer(
    system: SupplySystem,
    at: datetime,
    *,
    price_per_kwh: Decimal | None = None,
    bands: Any = None,
    holidays: Any = (),
) -> dict[str, Any]:
    """Return what the open findings would cost at another price, or by a time-of-use table.

    A table counts with its mean price over the coming year at constant power. Raises TariffWrong.
    """
    now = _now(system, at)
    price = _mean(system, at, bands, holidays) if price_per_kwh is None else price_per_kwh
    told = other_price(now, price)
    return {
        **_named(now),
        "leakage": figures.flow(told.flow),
        "before": _at_price(told.before),
        "after": _at_price(told.after),
        "difference": _at_price(told.difference),
        "reasons": figures.reasons(now.station.remarks),
    }


def _mean(system: SupplySystem, at: datetime, bands: Any, holidays: Any) -> Decimal:
    table = table_of(bands, holidays)
    mean = mean_price(table, at, at + YEAR, ZoneInfo(system.site.time_zone))
    exact = Fraction(0) if mean is None else mean.price_per_kwh
    return (Decimal(exact.numerator) / Decimal(exact.denominator)).quantize(PRICE_STEP)


def _at_price(one: AtPrice) -> dict[str, Any]:
    price = one.price_per_kwh
    return {
        "price_per_kwh": None if price is None else format(price, "f"),
        "full_load": figures.money(one.full_load),
        "expected": figures.money(one.expected),
    }
