"""What several calculations write into their answers, and read from their input, in one way."""

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from findings.kinds import cost
from findings.kinds.calculations.calculation import Json
from findings.kinds.calculations.input_schema import decimal_of
from findings.physics.estimate import Estimate
from findings.physics.uncertainty import Uncertain

STANDARD_ATMOSPHERE_PA = 101325.0


def flow_answer(estimate: Estimate) -> Json:
    """Return an estimated flow under names that carry its unit; ``schemas.FLOW_ANSWER`` describes it."""
    return {
        "flow_m3_per_s": estimate.value,
        "flow_u_m3_per_s": estimate.u,
        "flow_low_m3_per_s": estimate.low,
        "flow_high_m3_per_s": estimate.high,
        "reference_state": estimate.inputs["reference_state"],
        **provenance(estimate),
    }


def value_answer(estimate: Estimate, name: str, unit: str = "") -> Json:
    """Return a value with its spread under names that begin alike; ``schemas.value_answer`` describes it."""
    ending = f"_{unit}" if unit else ""
    return {
        f"{name}{ending}": estimate.value,
        f"{name}_u{ending}": estimate.u,
        f"{name}_low{ending}": estimate.low,
        f"{name}_high{ending}": estimate.high,
    }


def provenance(estimate: Estimate) -> Json:
    """Return how an estimate came about; ``schemas.PROVENANCE`` describes it."""
    return {
        "status": estimate.status.value,
        "method": estimate.method,
        "method_version": estimate.method_version,
        "reasons": [reason._asdict() for reason in estimate.reasons],
    }


def uncertain(data: Mapping[str, Any], name: str, u_name: str, default: float | None = None) -> Uncertain:
    """Return a number of the input with its standard uncertainty, 0 where none is given."""
    value = data[name] if default is None else data.get(name, default)
    return Uncertain(float(value), float(data.get(u_name, 0.0)))


def exact(data: Mapping[str, Any], name: str) -> Decimal | None:
    """Return a decimal input that was checked, or None where it isn't given."""
    return decimal_of(data[name]) if name in data else None


def rounded(value: Decimal, places: str) -> str:
    """Return a decimal rounded half up, as a string."""
    return str(value.quantize(Decimal(places), rounding=ROUND_HALF_UP, context=cost.EXACT))
