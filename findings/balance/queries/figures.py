"""How figures are written in an answer: the unit in the name, money rounded once, reasons in words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from findings.balance.rules import OpenLeak, Yearly
from findings.physics.estimate import Estimate, Reason
from findings.physics.uncertainty import COVERAGE_95, Uncertain
from findings.register.rules import CostNow, FindingCost

_CENT, _PER_HOUR = Decimal("0.01"), Decimal("0.0001")


def figure(estimate: Estimate, unit: str = "") -> dict[str, Any]:
    """Return a figure with interval, method, status and reasons; ``unit`` ends its numbers' names."""
    whole: Mapping[str, Any] = estimate.to_json()
    numbers = {f"{name}{unit}": whole[name] for name in ("value", "u", "low", "high")}
    return {**numbers, **{name: whole[name] for name in ("method", "method_version", "status", "reasons")}}


def flow(of: Uncertain) -> dict[str, float]:
    """Return a flow with its standard uncertainty and 95 % interval, not below zero."""
    reach = COVERAGE_95 * of.u
    return {
        "value_m3_per_s": of.value,
        "u_m3_per_s": of.u,
        "low_m3_per_s": max(of.value - reach, 0.0),
        "high_m3_per_s": of.value + reach,
    }


def leak(one: OpenLeak) -> dict[str, Any]:
    """Return a finding of the balance."""
    return {
        "finding_id": one.finding_id,
        "number": one.number,
        "asset_code": one.asset_code,
        "flow_m3_per_s": one.flow.value,
        "u_m3_per_s": one.flow.u,
        "shared_relative_u": one.shared_relative_u,
    }


def money(yearly: Yearly) -> dict[str, Any]:
    """Return money a year with its interval."""
    return {
        "per_year": _rounded(yearly.value, _CENT),
        "low_per_year": _rounded(yearly.low, _CENT),
        "high_per_year": _rounded(yearly.high, _CENT),
        "reasons": reasons(yearly.reasons),
    }


def cost(both: FindingCost) -> dict[str, Any]:
    """Return what a flow costs, as both figures."""
    return {"full_load": _cost(both.full_load), "expected": _cost(both.expected)}


def _cost(one: CostNow) -> dict[str, Any]:
    return {
        "per_hour": _rounded(one.per_hour, _PER_HOUR),
        "per_year": _rounded(one.per_year, _CENT),
        "reasons": [reason._asdict() for reason in one.reasons],
    }


def reasons(found: Iterable[Reason]) -> list[dict[str, str]]:
    """Return reasons as code and text."""
    return [reason._asdict() for reason in found]


def exact(amount: Decimal) -> str:
    """Return an amount of money with its two decimals."""
    return format(amount.quantize(_CENT, ROUND_HALF_UP), "f")


def _rounded(value: Decimal | None, step: Decimal) -> str | None:
    return None if value is None else format(value.quantize(step, ROUND_HALF_UP), "f")
