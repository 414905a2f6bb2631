"""One line of a statement: what one finding contributes to every figure of the month."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Any, Final, TypeVar

from workorders.statements.rules.credit import Bucket, avoided_in
from workorders.statements.rules.history import (
    OPEN_STATES,
    EventKind,
    KnownFinding,
    LossFact,
    State,
    Step,
)
from workorders.statements.rules.money import DIGITS, Amount, amount_in, to_decimal
from workorders.statements.rules.series import KnownPrices, PriceGapError
from workorders.statements.rules.time import clip

SECONDS_PER_YEAR: Final = 365 * 86_400

T = TypeVar("T")


@dataclass(slots=True)
class Gaps:
    """The prices that were missing, each with the finding and the figure that needed it.

    While `strict`, the first one is raised.
    """

    strict: bool = True
    found: list[tuple[str, str, PriceGapError]] = field(default_factory=list)

    def spare(self, finding_id: str, figure: str, work: Callable[[], T]) -> T | None:
        """Do the work; None where a price is missing that it needs."""
        try:
            return work()
        except PriceGapError as gap:
            if self.strict:
                raise
            self.found.append((finding_id, figure, gap))
            return None


@dataclass(frozen=True, slots=True)
class FindingLine:
    """What a finding adds to the month. Counts are 0 or more; money is exact to 40 digits.

    Money is None where a price is missing that it needs, the CO2e where a grid factor is.
    `accrued_deferred` is the part of the accrued that ran during approved deferrals.
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
    accrued: Decimal | None
    accrued_deferred: Decimal | None
    energy_kwh: Decimal | None
    volume_m3: Decimal | None
    co2e_kg: Decimal | None
    avoided_verified: Decimal | None
    avoided_claimed: Decimal | None
    cost_past_due: Decimal | None
    cost_past_extended_due: Decimal | None
    accrued_u: Decimal | None
    in_rate_base: bool
    cleared: bool
    rate_flow_m3_per_s: Decimal
    rate_cost_per_year: Decimal | None

    @property
    def says_something(self) -> bool:
        """Say whether the line adds anything at all to the month."""
        money = (self.accrued, self.avoided_verified, self.avoided_claimed)
        return bool(
            self.open_start + self.found + self.reopened + self.open_end + self.closed
            or self.closed_by_reason + self.removed + self.repaired
            or any(amount is None or amount for amount in money)
        )


@dataclass(frozen=True, slots=True)
class Totals:
    """The sum of lines: the ledger of counts, and the money. The same for a site and for each area.

    Money is None where it is None in any line: a part is not told for the whole.
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
    accrued: Decimal | None
    accrued_deferred: Decimal | None
    energy_kwh: Decimal | None
    volume_m3: Decimal | None
    co2e_kg: Decimal | None
    avoided_verified: Decimal | None
    avoided_claimed: Decimal | None
    cost_past_due: Decimal | None
    cost_past_extended_due: Decimal | None

    @property
    def balances(self) -> bool:
        """Say whether the ledger closes."""
        came = self.open_start + self.found + self.reopened
        return self.open_end == came - self.closed - self.closed_by_reason - self.removed


COUNTS: Final = (
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
AMOUNTS: Final = (
    "accrued",
    "accrued_deferred",
    "energy_kwh",
    "volume_m3",
    "co2e_kg",
    "avoided_verified",
    "avoided_claimed",
    "cost_past_due",
    "cost_past_extended_due",
)


def total_of(lines: Iterable[FindingLine]) -> Totals:
    """Add lines up; the money of the total is exactly the sum of the lines'."""
    rows = list(lines)
    sums: dict[str, Any] = {name: sum(getattr(row, name) for row in rows) for name in COUNTS}
    with localcontext(prec=DIGITS * 2):
        sums |= {name: sum_or_none(getattr(row, name) for row in rows) for name in AMOUNTS}
    return Totals(**sums)


def sum_or_none(parts: Iterable[Decimal | None]) -> Decimal | None:
    """Add amounts up; None as soon as one of them is."""
    total = Decimal(0)
    for part in parts:
        if part is None:
            return None
        total += part
    return total


def line_of(
    finding: KnownFinding,
    window: tuple[datetime, datetime],
    prices: KnownPrices,
    credit_time: timedelta,
    gaps: Gaps | None = None,
) -> FindingLine:
    """Work out one finding's line over a window; raises PriceGapError where a price is missing.

    With `gaps` that are not strict, the missing price is noted there and what needs it is None.
    """
    start, end = window
    steps = finding.steps_in(window)
    before, after = finding.state_at(start), finding.state_at(end)
    history = finding.history
    counts = _counts(steps)
    open_start = int(before in OPEN_STATES)
    in_base = bool(open_start or counts["found"] or counts["reopened"])
    cleared = bool(counts["closed"]) and after is State.CLOSED
    flow, system = _rate_weight(finding, end, cleared=cleared) if in_base else (Decimal(0), None)
    money = _Money(finding, window, prices, gaps or Gaps())
    figures: dict[str, Any] = {**counts, **money.accrued(), **money.avoided(credit_time)}
    return FindingLine(
        finding_id=history.finding_id,
        label=history.label,
        area=history.area,
        state_at_start=before,
        state_at_end=after,
        open_start=open_start,
        open_end=int(after in OPEN_STATES),
        **figures,
        has_loss=bool(finding.losses),
        cost_past_due=money.past("cost_past_due", history.due_at),
        cost_past_extended_due=money.past(
            "cost_past_extended_due", history.extended_due_at or history.due_at
        ),
        in_rate_base=in_base,
        cleared=cleared,
        rate_flow_m3_per_s=flow,
        rate_cost_per_year=money.per_year(flow, system),
    )


@dataclass(frozen=True, slots=True)
class _Money:
    """The money of one finding's line; what lacks a price is None and noted."""

    finding: KnownFinding
    window: tuple[datetime, datetime]
    prices: KnownPrices
    gaps: Gaps

    def _told(self, figure: str, work: Callable[[], T]) -> T | None:
        return self.gaps.spare(self.finding.history.finding_id, figure, work)

    def _accrued_in(self, window: tuple[datetime, datetime]) -> Amount:
        return amount_in(self.finding.losses, window, self.prices)

    def accrued(self) -> dict[str, Decimal | None]:
        """Give what the finding cost in the window, the part during deferral, and its uncertainty."""
        whole = self._told("accrued", lambda: self._accrued_in(self.window))
        if whole is None:
            names = ("accrued", "accrued_deferred", "energy_kwh", "volume_m3", "co2e_kg", "accrued_u")
            return dict.fromkeys(names)
        waits = [clip(start, end, self.window) for start, end in self.finding.deferred_spans]
        deferred = sum((self._accrued_in(wait).cost for wait in waits if wait is not None), Fraction(0))
        return {
            "accrued": to_decimal(whole.cost),
            "accrued_deferred": to_decimal(deferred),
            "energy_kwh": to_decimal(whole.energy_kwh),
            "volume_m3": to_decimal(whole.volume_m3),
            "co2e_kg": None if whole.co2e_kg is None else to_decimal(whole.co2e_kg),
            "accrued_u": _own_uncertainty(self.finding.losses, self.window, self.prices),
        }

    def avoided(self, credit_time: timedelta) -> dict[str, Decimal | None]:
        """Give what its repairs avoided in the window, verified and claimed."""
        found = self._told("avoided", lambda: avoided_in(self.finding, self.window, self.prices, credit_time))
        return {
            f"avoided_{bucket}": None if found is None else to_decimal(found[bucket].cost)
            for bucket in Bucket
        }

    def past(self, figure: str, due_at: datetime | None) -> Decimal | None:
        """Give what it cost after its repair was due."""
        late = None if due_at is None else clip(due_at, None, self.window)
        if late is None:
            return Decimal(0)
        cost = self._told(figure, lambda: self._accrued_in(late).cost)
        return None if cost is None else to_decimal(cost)

    def per_year(self, flow_m3_per_s: Decimal, system: str | None) -> Decimal | None:
        """Give what a flow costs a year at the prices in force at the end of the window."""
        if system is None or flow_m3_per_s == 0:
            return Decimal(0)
        last_second = self.window[1] - timedelta(seconds=1)
        per_m3 = self._told("by_cost", lambda: self.prices.cost_per_m3_at(system, last_second))
        return None if per_m3 is None else to_decimal(Fraction(flow_m3_per_s) * per_m3 * SECONDS_PER_YEAR)


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


def _rate_weight(finding: KnownFinding, end: datetime, *, cleared: bool) -> tuple[Decimal, str | None]:
    """Give the flow with which a finding counts in the rate by flow, and its system."""
    if cleared:
        repair = [item for item in finding.repairs if item.verdict is EventKind.PASSED][-1:]
        return (repair[0].drop_m3_per_s, repair[0].system) if repair else (Decimal(0), None)
    ran = [loss for loss in finding.losses if loss.started_at < end and loss.rate_m3_per_s > 0][-1:]
    return (ran[0].rate_m3_per_s, ran[0].system) if ran else (Decimal(0), None)


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
