"""Lists by position: "more" begins behind the last row that was shown, whatever came or went meanwhile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any, Generic, TypeVar

from django.core import signing
from django.db.models import F, Model, Q, QuerySet

RowT = TypeVar("RowT", bound=Model)
SALT = "plantcare.desk.more"
SIZE = 50


@dataclass(frozen=True, slots=True)
class Step:
    """One column of an order; no value in it is null."""

    path: str
    down: bool = False


@dataclass(frozen=True, slots=True)
class Slice(Generic[RowT]):
    """The rows shown, and the word for the next ones (empty at the end)."""

    rows: list[RowT]
    more: str


def sliced(rows: QuerySet[RowT], steps: Sequence[Step], after: str) -> Slice[RowT]:
    """Return so many rows behind a position; an unreadable position begins at the start."""
    size = SIZE
    position = _read(after, len(steps))
    ordered = rows.order_by(*(F(s.path).desc() if s.down else F(s.path).asc() for s in steps))
    if position is not None:
        ordered = ordered.filter(_behind(steps, position))
    found = list(ordered[: size + 1])
    shown = found[:size]
    more = _written(shown[-1], steps) if len(found) > size else ""
    return Slice(shown, more)


def _behind(steps: Sequence[Step], position: Sequence[Any]) -> Q:
    """Say which rows come after a position: larger in one column and equal in all before it."""
    condition, equal = Q(), Q()
    for step, value in zip(steps, position, strict=True):
        word = "lt" if step.down else "gt"
        condition |= equal & Q(**{f"{step.path}__{word}": value})
        equal &= Q(**{step.path: value})
    return condition


def _written(row: Model, steps: Sequence[Step]) -> str:
    return signing.dumps([_plain(_value(row, step.path)) for step in steps], salt=SALT)


def _value(row: Any, path: str) -> Any:
    for name in path.split("__"):
        row = getattr(row, name)
    return row


def _plain(value: Any) -> list[Any]:
    match value:
        case datetime():
            return ["t", value.isoformat()]
        case Decimal():
            return ["d", str(value)]
        case bool() | int():
            return ["n", int(value)]
    return ["s", str(value)]


def _read(text: str, length: int) -> list[Any] | None:
    try:
        parts = signing.loads(text, salt=SALT) if text else None
        values = None if parts is None else [_typed(kind, value) for kind, value in parts]
    except (signing.BadSignature, ValueError, TypeError, InvalidOperation):
        return None
    return values if values is not None and len(values) == length else None


def _typed(kind: str, value: Any) -> Any:
    match kind:
        case "t":
            return datetime.fromisoformat(value)
        case "d":
            return Decimal(value)
    return value
