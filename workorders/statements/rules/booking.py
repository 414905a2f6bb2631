"""A month as it is frozen, and what has to be booked when later facts change it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from workorders.statements.rules.encode import to_json
from workorders.statements.rules.lines import COUNTS
from workorders.statements.rules.money import quantise
from workorders.statements.rules.month import MonthFigures

COLUMNS: Final[Mapping[str, str]] = {
    "accrued_cost": "accrued",
    "avoided_verified": "avoided_verified",
    "avoided_claimed": "avoided_claimed",
}
"""The three columns of money that are never added, by the name under which they are kept."""

UNPRICED: Final = ("accrued", "avoided")
"""Figures that a month cannot be closed without."""


@dataclass(frozen=True, slots=True)
class Booking:
    """A difference to book, or booked: money by column, counts by name, and the findings behind it."""

    money: Mapping[str, Decimal]
    counts: Mapping[str, int]
    findings: tuple[str, ...] = ()

    @property
    def says_something(self) -> bool:
        """Say whether there is anything to book."""
        return any(self.money.values()) or any(self.counts.values())


def columns_of(figures: MonthFigures) -> dict[str, Decimal]:
    """Round the three columns once; raises ValueError where one lacks a price."""
    money = {}
    for name, column in COLUMNS.items():
        amount: Decimal | None = getattr(figures.total, column)
        if amount is None:
            msg = f"{name} lacks a price."
            raise ValueError(msg)
        money[name] = quantise(amount)
    return money


def frozen_form(figures: MonthFigures) -> dict[str, Any]:
    """Return the figures as JSON values to keep; of the lines only what is not nothing."""
    whole: Any = to_json(figures)
    whole["lines"] = [
        {name: value for name, value in line.items() if value is None or value not in (0, "", False, "0")}
        for line in whole["lines"]
    ]
    return dict(whole)


def booking_of(
    closed_money: Mapping[str, Decimal],
    closed_figures: Mapping[str, Any],
    booked: Iterable[Booking],
    known: MonthFigures,
) -> Booking:
    """Compare a month as closed, with all that was booked since, with the month as known now."""
    booked = list(booked)
    now = columns_of(known)
    money = {
        name: now[name] - closed_money[name] - sum((one.money[name] for one in booked), Decimal(0))
        for name in COLUMNS
    }
    then = closed_figures.get("total", {})
    counts = {
        name: getattr(known.total, name)
        - int(then.get(name, 0))
        - sum(one.counts.get(name, 0) for one in booked)
        for name in COUNTS
    }
    changed = {name: count for name, count in counts.items() if count}
    return Booking(money, changed, _changed(closed_figures.get("lines", []), known))


def _changed(then: Iterable[Mapping[str, Any]], known: MonthFigures) -> tuple[str, ...]:
    """Name the findings whose line is another one than at the closing."""
    before = {line["finding_id"]: _told(line) for line in then}
    after = {line["finding_id"]: _told(line) for line in frozen_form(known)["lines"]}
    return tuple(key for key in dict.fromkeys([*before, *after]) if before.get(key) != after.get(key))


def _told(line: Mapping[str, Any]) -> tuple[Any, ...]:
    return tuple(line.get(name) for name in (*COLUMNS.values(), *COUNTS))
