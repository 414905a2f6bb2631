"""The figures of a month in words: what each is called and means, how it is written, what it opens."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from workorders.desk.rules.figures import NOTHING, grouped, money, significant


@dataclass(frozen=True, slots=True)
class Definition:
    """One figure: where it stands in a month's figures, its name, its meaning, how it is written.

    `form` is count, money, energy, share, part, days or hours; `opens` is the query of the list behind
    it, with {month} for the month.
    """

    path: str
    label: str
    means: str
    form: str = "count"
    opens: str = ""


@dataclass(frozen=True, slots=True)
class Told:
    """A figure as it is shown."""

    label: str
    text: str
    note: str
    means: str
    opens: str


GROUPS: Final[Sequence[tuple[str, Sequence[Definition]]]] = (
    (
        "Counts",
        (
            Definition("total.open_start", "Open at the start", "Found before, not ended by then."),
            Definition(
                "total.found",
                "Found",
                "First read in the month; dismissed and merged ones are left out.",
                opens="?status=counted&found={month}",
            ),
            Definition("total.reopened", "Come back", "Closed before and heard again at the same spot."),
            Definition(
                "total.repaired",
                "Repairs reported",
                "Reported done in the month, whatever the check says later.",
            ),
            Definition(
                "total.closed",
                "Closed, verified",
                "Ended by a reading after the repair that shows the fault gone.",
                opens="?status=closed&closed={month}",
            ),
            Definition(
                "total.closed_by_reason",
                "Closed by a reason",
                "Ended without a reading, by a recorded reason.",
            ),
            Definition(
                "total.removed",
                "Out of service",
                "Ended because asset or branch went out of service; no repair.",
            ),
            Definition(
                "total.open_end",
                "Open at the end",
                "Start + found + come back − closed − closed by a reason − out of service. Deferred ones and "
                "repairs not yet checked are open.",
            ),
            Definition("total.repairs_rejected", "Repairs that did not hold", "Judged failed in the month."),
            Definition(
                "without_loss", "Open without a rate", "No leak rate is known, so no money is told of them."
            ),
        ),
    ),
    (
        "Money, in three columns that are never added",
        (
            Definition(
                "total.accrued",
                "Leak cost",
                "Every loss × price in force × hours of the month, piece by piece.",
                "money",
            ),
            Definition(
                "total.avoided_verified",
                "Avoided, verified",
                "Rate before less rate after × price × hours since the repair, for a year from the repair, "
                "where readings before and after prove it.",
                "money",
            ),
            Definition(
                "total.avoided_claimed",
                "Avoided, not yet verified",
                "The same for repairs that are reported and not checked yet.",
                "money",
            ),
            Definition("total.energy_kwh", "Energy lost", "What the lost gas took to make.", "energy"),
            Definition(
                "total.cost_past_due",
                "Cost past due",
                "The part of the leak cost that ran after the order’s due time.",
                "money",
            ),
        ),
    ),
    (
        "Shares",
        (
            Definition(
                "rates.clearance",
                "Cleared",
                "Closed and still closed ÷ (open at the start + found or come back).",
                "share",
            ),
            Definition("rates.throughput", "Kept pace", "Closed and still closed ÷ found.", "share"),
            Definition("rates.by_flow", "Cleared, by leak rate", "Cleared, weighed by leak rate.", "share"),
            Definition("rates.by_cost", "Cleared, by cost", "Cleared, weighed by cost.", "share"),
            Definition(
                "rates.cohort",
                "Repaired within 30 days",
                "Of those found in the month; told once 30 days have passed.",
                "part",
            ),
            Definition("verified_share", "Verified closures", "Verified ÷ all closures.", "share"),
            Definition(
                "checks.first_time_fix",
                "Held at once",
                "First check passed ÷ checked.",
                "share",
            ),
        ),
    ),
    (
        "Times",
        (
            Definition(
                "backlog.since_found.median",
                "Median age of the open ones",
                "Half of the open findings are older at the month’s end.",
                "days",
            ),
            Definition(
                "backlog.since_found.p90",
                "Age of the oldest tenth",
                "A tenth of them is older than this.",
                "days",
            ),
            Definition(
                "time_to_repair.median",
                "Median time to a verified repair",
                "Kaplan-Meier over all findings, open ones counted as not yet repaired. A plain mean of the "
                "repaired ones would flatter and is not shown.",
                "days",
            ),
            Definition(
                "releaks.by_180_days",
                "Come back within 180 days",
                "Share of verified repairs that leak again at the same spot, Kaplan-Meier.",
                "part",
            ),
        ),
    ),
)


LEADING: Final = (
    "total.accrued",
    "total.avoided_verified",
    "total.avoided_claimed",
    "total.closed",
    "total.open_end",
)
"""The figures of a month that matter first."""


def leading(figures: Mapping[str, Any], currency: str, month: str) -> list[Told]:
    """Return the few figures that matter first, as they are shown; one that is not there is left out."""
    known = {one.path: one for _, definitions in GROUPS for one in definitions}
    return [_told(known[path], figures, currency, month) for path in LEADING if _has(figures, path)]


def told(figures: Mapping[str, Any], currency: str, month: str) -> list[tuple[str, list[Told]]]:
    """Return a month's figures in groups, as they are shown; a figure that is not there is left out."""
    groups = []
    for name, definitions in GROUPS:
        rows = [_told(one, figures, currency, month) for one in definitions if _has(figures, one.path)]
        if rows:
            groups.append((name, rows))
    return groups


def _told(one: Definition, figures: Mapping[str, Any], currency: str, month: str) -> Told:
    value = _at(figures, one.path)
    note = _of_whole(value) if one.form == "share" and isinstance(value, Mapping) else ""
    return Told(one.label, _text(value, one.form, currency), note, one.means, one.opens.format(month=month))


def _text(value: Any, form: str, currency: str) -> str:
    if form == "share":
        value = value.get("value") if isinstance(value, Mapping) else value
    if value is None:
        return "not yet" if form == "part" else "none"
    match form:
        case "money":
            return money(Decimal(str(value)), currency)
        case "energy":
            return f"{grouped(Decimal(str(value)))}\u00a0kWh"
        case "share" | "part":
            return f"{grouped(Decimal(str(value)) * 100, 1)}\u00a0%"
        case "days":
            return f"{significant(float(value), 2)}\u00a0days"
    return grouped(Decimal(str(value)))


def _of_whole(share: Mapping[str, Any]) -> str:
    """Say a share's counts and interval beside it, where they are counts."""
    if share.get("value") is None:
        return "nothing to divide by"
    parts = []
    part, whole = Decimal(str(share["part"])), Decimal(str(share["whole"]))
    if whole == whole.to_integral_value() and part == part.to_integral_value():
        parts.append(f"{grouped(part)} of {grouped(whole)}")
    if share.get("low") is not None and share.get("high") is not None:
        low, high = (grouped(Decimal(str(share[name])) * 100, 0) for name in ("low", "high"))
        parts.append(f"95 %: {low} to {high} %")
    return ", ".join(parts)


def _has(figures: Mapping[str, Any], path: str) -> bool:
    return bool(_at(figures, path, missing=NOTHING) != NOTHING)


def _at(figures: Mapping[str, Any], path: str, missing: Any = None) -> Any:
    value: Any = figures
    for name in path.split("."):
        if not isinstance(value, Mapping) or name not in value:
            return missing
        value = value[name]
    return value
