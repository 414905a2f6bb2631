"""One line of a statement: what one finding contributes to every figure of the month."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Any, Final

from workorders.statements.rules.credit import Bucket, avoided_in
from workorders.statements.rules.history import (
    OPEN_STATES,
    EventKind,
    KnownFinding,
    LossFact,
    State,
    Step,
)
from workorders.statements.rules.money import DIGITS, amount_in, to_decimal
from workorders.statements.rules.series import KnownPrices
from workorders.statements.rules.time import clip

SECONDS_PER_YEAR: Final = 365 * 86_400


@dataclass(frozen=True, slots=True)
class FindingLine:
    """What a finding adds to the month. Counts are 0 or more; money is exact to 40 digits.

    `has_loss` False: no leak rate is known, so that its money is 0 because none can be told.
    `in_rate_base` and `cleared` are denominator and numerator of the repair rate.
    """

    finding_id: str
    label: str
    area: str
    state_at_start: State | None
    state_at_end: State | None
    open_start: int
    found: int
    reopened: int
    closed: int
    closed_by_reason: int
    removed: int
    open_end: int
    repaired: int
    repairs_rejected: int
    has_loss: bool
    accrued: Decimal
    energy_kwh: Decimal
    volume_m3: Decimal
    avoided_verified: Decimal
    avoided_claimed: Decimal
    cost_past_due: Decimal
    cost_past_extended_due: Decimal
    accrued_u: Decimal | None
    in_rate_base: bool
    cleared: bool
    rate_flow_m3_per_s: Decimal
    rate_cost_per_year: Decimal

    @property
    def says_something(self) -> bool:
        """Say whether the line adds anything at all to the month."""
        return bool(
            self.open_start + self.found + self.reopened + self.open_end + self.closed
            or self.closed_by_reason + self.removed + self.repaired
            or self.accrued + self.avoided_verified + self.avoided_claimed
        )


@dataclass(frozen=True, slots=True)
class Totals:
    """The sum of lines: the ledger of counts, and the money. The same for a site and for each area.

    open_end = open_start + found + reopened - closed - closed_by_reason - removed.
    """

    open_start: int
    found: int
    reopened: int
    closed: int
    closed_by_reason: int
    removed: int
    open_end: int
    repaired: int
    repairs_rejected: int
    accrued: Decimal
    energy_kwh: Decimal
    volume_m3: Decimal
    avoided_verified: Decimal
    avoided_claimed: Decimal
    cost_past_due: Decimal
    cost_past_extended_due: Decimal

    @property
    def balances(self) -> bool:
        """Say whether the ledger closes."""
        came = self.open_start + self.found + self.reopened
        return self.open_end == came - self.closed - self.closed_by_reason - self.removed


_COUNTS: Final = (
    "open_start",
    "found",
    "reopened",
    "closed",
    "closed_by_reason",
    "removed",
    "open_end",
    "repaired",
    "repairs_rejected",
)
_MONEY: Final = (
    "accrued",
    "energy_kwh",
    "volume_m3",
    "avoided_verified",
    "avoided_claimed",
    "cost_past_due",
    "cost_past_extended_due",
)


def total_of(lines: Iterable[FindingLine]) -> Totals:
    """Add lines up; the money of the total is exactly the sum of the lines'."""
    rows = list(lines)
    sums: dict[str, Any] = {name: sum(getattr(row, name) for row in rows) for name in _COUNTS}
    with localcontext(prec=DIGITS * 2):
        sums |= {name: sum((getattr(row, name) for row in rows), Decimal(0)) for name in _MONEY}
    return Totals(**sums)


def line_of(
    finding: KnownFinding,
    window: tuple[datetime, datetime],
    prices: KnownPrices,
    credit_time: timedelta,
) -> FindingLine:
    """Work out one finding's line over a window; raises PriceGapError where a price is missing."""
    start, end = window
    steps = finding.steps_in(window)
    before, after = finding.state_at(start), finding.state_at(end)
    accrued = amount_in(finding.losses, window, prices)
    avoided = avoided_in(finding, window, prices, credit_time)
    history = finding.history
    counts = _counts(steps)
    open_start = int(before in OPEN_STATES)
    in_base = bool(open_start or counts["found"] or counts["reopened"])
    cleared = bool(counts["closed"]) and after is State.CLOSED
    flow, cost = _rate_weight(finding, end, prices, cleared=cleared) if in_base else (Decimal(0), Fraction(0))
    return FindingLine(
        finding_id=history.finding_id,
        label=history.label,
        area=history.area,
        state_at_start=before,
        state_at_end=after,
        open_start=open_start,
        open_end=int(after in OPEN_STATES),
        **counts,
        has_loss=bool(finding.losses),
        accrued=to_decimal(accrued.cost),
        energy_kwh=to_decimal(accrued.energy_kwh),
        volume_m3=to_decimal(accrued.volume_m3),
        avoided_verified=to_decimal(avoided[Bucket.VERIFIED].cost),
        avoided_claimed=to_decimal(avoided[Bucket.CLAIMED].cost),
        cost_past_due=_cost_since(finding, history.due_at, window, prices),
        cost_past_extended_due=_cost_since(
            finding, history.extended_due_at or history.due_at, window, prices
        ),
        accrued_u=_own_uncertainty(finding.losses, window, prices),
        in_rate_base=in_base,
        cleared=cleared,
        rate_flow_m3_per_s=flow,
        rate_cost_per_year=to_decimal(cost),
    )


def _counts(steps: tuple[Step, ...]) -> dict[str, int]:
    def left_open(state: State) -> int:
        return sum(step.after is state and step.before in OPEN_STATES for step in steps)

    def happened(kind: EventKind) -> int:
        return sum(step.event.kind is kind for step in steps)

    return {
        "found": happened(EventKind.FOUND),
        "reopened": happened(EventKind.REOPENED),
        "closed": left_open(State.CLOSED),
        "closed_by_reason": left_open(State.CLOSED_BY_REASON),
        "removed": left_open(State.REMOVED),
        "repaired": happened(EventKind.REPAIRED),
        "repairs_rejected": happened(EventKind.FAILED),
    }


def _cost_since(
    finding: KnownFinding, due_at: datetime | None, window: tuple[datetime, datetime], prices: KnownPrices
) -> Decimal:
    late = None if due_at is None else clip(due_at, None, window)
    return Decimal(0) if late is None else to_decimal(amount_in(finding.losses, late, prices).cost)


def _rate_weight(
    finding: KnownFinding, end: datetime, prices: KnownPrices, *, cleared: bool
) -> tuple[Decimal, Fraction]:
    """Give the flow with which a finding counts in the rate by flow, and its yearly cost."""
    if cleared:
        repair = [item for item in finding.repairs if item.verdict is EventKind.PASSED][-1:]
        flow, system = (repair[0].drop_m3_per_s, repair[0].system) if repair else (Decimal(0), None)
    else:
        ran = [loss for loss in finding.losses if loss.started_at < end and loss.rate_m3_per_s > 0][-1:]
        flow, system = (ran[0].rate_m3_per_s, ran[0].system) if ran else (Decimal(0), None)
    if system is None or flow == 0:
        return flow, Fraction(0)
    last_second = end - timedelta(seconds=1)
    return flow, Fraction(flow) * prices.cost_per_m3_at(system, last_second) * SECONDS_PER_YEAR


def _own_uncertainty(
    losses: tuple[LossFact, ...], window: tuple[datetime, datetime], prices: KnownPrices
) -> Decimal | None:
    """Give the standard uncertainty of the accrued money from the leak rates' own intervals.

    A quarter of the 95 % interval is taken as the standard uncertainty. One and the same estimate
    runs through a finding's stretches, so that their parts add up. None when any lacks an interval.
    """
    total = Fraction(0)
    for loss in losses:
        if clip(loss.started_at, loss.ended_at, window) is None or loss.rate_m3_per_s == 0:
            continue
        if loss.low_m3_per_s is None or loss.high_m3_per_s is None:
            return None
        cost = amount_in([loss], window, prices).cost
        total += cost * Fraction(loss.high_m3_per_s - loss.low_m3_per_s) / (4 * Fraction(loss.rate_m3_per_s))
    return to_decimal(total)
