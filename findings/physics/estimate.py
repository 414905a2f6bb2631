"""The common result of every computation: a value with its interval, method and reasons, or a refusal."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Any, NamedTuple


class Status(StrEnum):
    """Say how a value came to be; only a refused one has no value.

    An indicative value is an order of magnitude: read its interval, and make no money of it.
    """

    ESTIMATED = "estimated"
    MEASURED = "measured"
    STATED = "stated"
    INDICATIVE = "indicative"
    REFUSED = "refused"


class Reason(NamedTuple):
    """Why a value is what it is, or why there is none: a stable code and a sentence."""

    code: str
    text: str


@dataclass(frozen=True)
class Estimate:
    """A value in ``unit`` with standard uncertainty ``u`` and a 95 % interval from low to high.

    A refused estimate has no value, no interval and at least one reason; it is never zero.
    Raises ValueError for anything that contradicts this or isn't finite.
    """

    value: float | None
    u: float | None
    low: float | None
    high: float | None
    unit: str
    method: str
    method_version: str
    status: Status
    reasons: tuple[Reason, ...] = ()
    inputs: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Check that the parts agree, and close the inputs against change."""
        object.__setattr__(self, "inputs", MappingProxyType(dict(self.inputs)))
        numbers = (self.value, self.u, self.low, self.high)
        if self.status is Status.REFUSED:
            if any(number is not None for number in numbers) or not self.reasons:
                msg = "a refused estimate has reasons and no number"
                raise ValueError(msg)
            return
        if not all(number is None or math.isfinite(number) for number in numbers):
            msg = "an estimate holds finite numbers"
            raise ValueError(msg)
        if self.value is None or self.u is None or self.low is None or self.high is None:
            msg = "an estimate that isn't refused has a value and its interval"
            raise ValueError(msg)
        if self.u < 0 or not self.low <= self.value <= self.high:
            msg = "the value lies inside its interval and u is not negative"
            raise ValueError(msg)

    @property
    def is_refused(self) -> bool:
        """Tell whether there is no value."""
        return self.status is Status.REFUSED

    def to_json(self) -> dict[str, Any]:
        """Return a dictionary of plain JSON types."""
        return {
            "value": self.value,
            "u": self.u,
            "low": self.low,
            "high": self.high,
            "unit": self.unit,
            "method": self.method,
            "method_version": self.method_version,
            "status": self.status.value,
            "reasons": [{"code": reason.code, "text": reason.text} for reason in self.reasons],
            "inputs": dict(self.inputs),
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Estimate":
        """Return the estimate that ``to_json`` wrote; raises KeyError or ValueError for others."""
        return cls(
            value=data["value"],
            u=data["u"],
            low=data["low"],
            high=data["high"],
            unit=data["unit"],
            method=data["method"],
            method_version=data["method_version"],
            status=Status(data["status"]),
            reasons=tuple(Reason(reason["code"], reason["text"]) for reason in data["reasons"]),
            inputs=data["inputs"],
        )


def refused(
    *, unit: str, method: str, version: str, reasons: tuple[Reason, ...], inputs: Mapping[str, Any]
) -> Estimate:
    """Return the estimate that says why there is no value."""
    return Estimate(
        value=None,
        u=None,
        low=None,
        high=None,
        unit=unit,
        method=method,
        method_version=version,
        status=Status.REFUSED,
        reasons=reasons,
        inputs=inputs,
    )
