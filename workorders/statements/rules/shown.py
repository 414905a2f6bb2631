"""A month's figures as they are answered: rounded once, named with their units, each with its sentence."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from workorders.statements.rules.lines import COUNTS
from workorders.statements.rules.money import quantise, share_out


@dataclass(frozen=True, slots=True)
class _Figure:
    """Which column of a line a figure is the sum of, in which unit, with how many decimals."""

    column: str
    unit: str
    places: int = 2


FIGURES: Final[Mapping[str, _Figure]] = {
    "accrued_cost": _Figure("accrued", "currency"),
    "accrued_cost_deferred": _Figure("accrued_deferred", "currency"),
    "avoided_verified": _Figure("avoided_verified", "currency"),
    "avoided_claimed": _Figure("avoided_claimed", "currency"),
    "cost_past_due": _Figure("cost_past_due", "currency"),
    "cost_past_extended_due": _Figure("cost_past_extended_due", "currency"),
    "energy_kwh": _Figure("energy_kwh", "kWh", 3),
    "volume_m3": _Figure("volume_m3", "m3", 3),
    "co2e_kg": _Figure("co2e_kg", "kg", 3),
    **{name: _Figure(name, "findings", 0) for name in COUNTS},
}
"""The figures that can be opened down to the findings behind them."""

_REFUSED: Final[Mapping[str, tuple[str, ...]]] = {
    "accrued": ("accrued_cost", "accrued_cost_deferred", "energy_kwh", "volume_m3", "co2e_kg"),
    "avoided": ("avoided_verified", "avoided_claimed"),
    "by_cost": ("repair_rates.by_cost",),
}


def shown_figures(figures: Mapping[str, Any]) -> dict[str, Any]:
    """Return the figures of a month (in their JSON form) as they are answered."""
    total, rates, checks = figures["total"], figures["rates"], figures["checks"]

    def money(column: str) -> dict[str, Any] | None:
        return _money(total[column], figures["currency"])

    return {
        "as_of": figures["as_of"],
        "hours": _rounded(figures["hours"], 4),
        "currency": figures["currency"],
        "accrued_cost": money("accrued"),
        "accrued_cost_interval": _interval(figures["accrued_width"], figures["currency"]),
        "accrued_cost_deferred": money("accrued_deferred"),
        "avoided_verified": money("avoided_verified"),
        "avoided_claimed": money("avoided_claimed"),
        "cost_past_due": money("cost_past_due"),
        "cost_past_extended_due": money("cost_past_extended_due"),
        "energy_kwh": _decimal(total["energy_kwh"]),
        "volume_m3": _float(total["volume_m3"]),
        "co2e_kg": _float(total["co2e_kg"]),
        **{name: total[name] for name in COUNTS},
        "ledger_balances": True,
        "open_end_by_state": figures["open_end_by_state"],
        "without_loss": figures["without_loss"],
        "repair_rates": {
            **{name: _share(rates[name], places) for name, places in _RATES.items()},
            "cohort": {"part": None, "whole": None, "value": rates["cohort"], "low": None, "high": None},
        },
        "verified_share": _share(figures["verified_share"]),
        "checks": {name: _share(told) if name != "overdue" else told for name, told in checks.items()},
        "backlog_age": _backlog(figures["backlog"]),
        "time_to_repair": _in_days(figures["time_to_repair"], _TIMES),
        "releaks": figures["releaks"],
        "areas": [_area(code, sums, figures["currency"]) for code, sums in figures["areas"].items()],
        "refused": _refusals(figures.get("refused", {})),
        "credit_days": figures["credit_time"] / 86_400,
    }


_RATES: Final = {"throughput": 0, "clearance": 0, "by_flow": 12, "by_cost": 2, "ever": 0}
"""The repair rates with the decimals of their part and whole; the cohort's is of a curve and has none."""

_TIMES: Final = (
    "median",
    "median_low",
    "median_high",
    "restricted_mean",
    "biased_mean_of_repaired",
)


def _money(amount: str | None, currency: str) -> dict[str, Any] | None:
    return None if amount is None else {"amount": quantise(Decimal(amount)), "currency": currency}


def _rounded(number: str, places: int) -> float:
    return round(float(number), places)


def _decimal(number: str | None, places: int = 3) -> Decimal | None:
    return None if number is None else quantise(Decimal(number), places)


def _float(number: str | None, places: int = 3) -> float | None:
    """Give a figure that the caller may ask for in another unit."""
    return None if number is None else float(quantise(Decimal(number), places))


def _interval(width: Mapping[str, Any] | None, currency: str) -> dict[str, Any] | None:
    """Give the 95 % interval of an amount; its lower end is not below zero."""
    if width is None:
        return None
    ends = (max(width["value"] - width["half_width"], 0.0), width["value"] + width["half_width"])
    low, high = (quantise(Decimal(repr(end))) for end in ends)
    return {"low": low, "high": high, "currency": currency}


def _share(share: Mapping[str, Any], places: int = 0) -> dict[str, Any]:
    return {**share, **{name: quantise(Decimal(share[name]), places) for name in ("part", "whole")}}


def _in_days(figures: Mapping[str, Any], names: Iterable[str]) -> dict[str, Any]:
    """Write the unit behind the names of what is told in days."""
    return {f"{name}_days" if name in names else name: value for name, value in figures.items()}


def _backlog(backlog: Mapping[str, Any]) -> dict[str, Any]:
    ages = {
        name: _in_days(backlog[name], ("median", "p90", "highest"))
        for name in ("since_found", "since_reopened", "less_deferral")
    }
    return {**ages, "flow_weighted_mean_days": backlog["flow_weighted_mean"]}


def _area(code: str, sums: Mapping[str, Any], currency: str) -> dict[str, Any]:
    return {
        "area": code,
        "accrued_cost": _money(sums["accrued"], currency),
        "avoided_verified": _money(sums["avoided_verified"], currency),
        "avoided_claimed": _money(sums["avoided_claimed"], currency),
        **{name: sums[name] for name in COUNTS},
    }


def _refusals(refused: Mapping[str, str]) -> list[dict[str, str]]:
    return [
        {"figure": name, "code": "price_missing" if figure != "co2e_kg" else "factor_missing", "detail": text}
        for figure, text in refused.items()
        for name in _REFUSED.get(figure, (figure,))
    ]


@dataclass(frozen=True, slots=True)
class ShownLine:
    """What one finding adds to a figure; None where it lacks a price."""

    finding_id: str
    label: str
    area: str
    value: Decimal | None


@dataclass(frozen=True, slots=True)
class ShownLines:
    """The findings behind a figure, the largest first; the shown values add up to the shown total."""

    figure: str
    unit: str
    currency: str
    total: Decimal | None
    lines: tuple[ShownLine, ...]


def shown_lines(figures: Mapping[str, Any], name: str) -> ShownLines:
    """Return the findings behind a figure of a month (in its JSON form), rounded so that they add up.

    Raises KeyError for a figure that has no lines.
    """
    figure = FIGURES[name]
    rows = [(line, _exact(line.get(figure.column, 0))) for line in figures["lines"]]
    rows = [(line, value) for line, value in rows if value is None or value]
    rows.sort(key=_largest_first)
    shares = iter(share_out([value for _, value in rows if value is not None], figure.places))
    lines = tuple(
        ShownLine(
            line["finding_id"],
            line["label"],
            line.get("area", ""),
            None if value is None else next(shares),
        )
        for line, value in rows
    )
    total = _exact(figures["total"][figure.column])
    return ShownLines(
        name,
        figures["currency"] if figure.unit == "currency" else figure.unit,
        figures["currency"] if figure.unit == "currency" else "",
        None if total is None else quantise(total, figure.places),
        lines,
    )


def _exact(value: str | int | None) -> Decimal | None:
    return None if value is None else Decimal(value)


def _largest_first(row: tuple[Mapping[str, Any], Decimal | None]) -> tuple[bool, Decimal, str]:
    """Put what lacks a price before everything, for it may be the largest."""
    line, value = row
    return value is not None, -(value or Decimal(0)), str(line["label"])
