"""Figures as plain JSON values, and a digest of what they were made from."""

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from enum import Enum
from fractions import Fraction

from workorders.statements.rules.money import to_decimal


def to_json(value: object) -> object:
    """Turn figures into JSON values: decimals as plain strings, moments in UTC, times in seconds.

    Raises TypeError on anything it does not know, ValueError on a number that is not finite.
    """
    if isinstance(value, Enum):
        return value.value
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float | Decimal | Fraction):
        return _number(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, timedelta):
        return value.total_seconds()
    if is_dataclass(value) and not isinstance(value, type):
        shown = [item.name for item in fields(value) if not item.name.startswith("_")]
        return {name: to_json(getattr(value, name)) for name in shown}
    return _collection(value)


def _number(value: float | Decimal | Fraction) -> object:
    exact = to_decimal(value) if isinstance(value, Fraction) else value
    if not (math.isfinite(exact) if isinstance(exact, float) else exact.is_finite()):
        msg = "A figure must be a finite number."
        raise ValueError(msg)
    return exact if isinstance(exact, float) else format(exact, "f")


def _collection(value: object) -> object:
    if isinstance(value, Mapping):
        return {str(to_json(key)): to_json(item) for key, item in value.items()}
    if isinstance(value, frozenset | set):
        return sorted((to_json(item) for item in value), key=str)
    if isinstance(value, tuple | list):
        return [to_json(item) for item in value]
    msg = f"A {type(value).__name__} has no place in a statement."
    raise TypeError(msg)


def digest(*inputs: object) -> bytes:
    """Hash inputs in one canonical form (SHA-256), so that a closed month can prove what it stood on."""
    text = json.dumps(to_json(inputs), sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode()).digest()
