"""A site's month: every figure, each open down to the findings it is made of."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Final
from zoneinfo import ZoneInfo

from workorders.statements.rules.ages import Aged, BacklogAge, backlog_age
from workorders.statements.rules.credit import CREDIT_TIME
from workorders.statements.rules.history import (
    OPEN_STATES,
    EventKind,
    FindingHistory,
    KnownFinding,
    State,
)
from workorders.statements.rules.lines import FindingLine, Gaps, Totals, line_of, sum_or_none, total_of
from workorders.statements.rules.money import to_decimal
from workorders.statements.rules.series import KnownPrices, PriceGapError, PriceSeries
from workorders.statements.rules.shares import Share, share_of_amounts, share_of_counts
from workorders.statements.rules.survival import Watched
from workorders.statements.rules.time import days_between, month_bounds, seconds_between, utc
from workorders.statements.rules.times import (
    Checks,
    Releaks,
    TimeToRepair,
    checks_of,
    cohort_share,
    releak_cases,
    releaks_of,
    repair_case,
    time_to_repair,
)
from workorders.statements.rules.uncertainty import SharedUncertainty, Width, scale_width, width_of_sum

COHORT_DAYS: Final = 30


class PriceGapsError(ValueError):
    """Prices are missing; `gaps` names each, with a finding that needs it."""

    def __init__(self, gaps: Sequence[tuple[str, PriceGapError]]) -> None:
        super().__init__(" ".join(dict.fromkeys(str(gap) for _, gap in gaps)))
        self.gaps = tuple(gaps)


class LedgerError(ValueError):
    """The counts do not balance; a statement that does not balance is not given."""


@dataclass(frozen=True, slots=True)
class MonthRules:
    """The conventions of a site that are printed with its figures."""

    credit_time: timedelta = CREDIT_TIME
    shared: SharedUncertainty = field(default_factory=SharedUncertainty)


@dataclass(frozen=True, slots=True)
class Rates:
    """The repair rate six ways; each names its own whole.

    throughput = closed and still closed / found; clearance = the same / (open at start, found or
    reopened); cohort = found in the month and repaired within 30 days, None until that time has passed;
    by_flow and by_cost = clearance weighted; ever = still closed / ever found.
    """

    throughput: Share
    clearance: Share
    cohort: float | None
    by_flow: Share
    by_cost: Share
    ever: Share


@dataclass(frozen=True, slots=True)
class MonthFigures:
    """All figures of a site's month as known at `as_of`, up to `horizon` (the month's end, or now).

    The three columns accrued, avoided_verified and avoided_claimed of `total` are never added up.
    `accrued_width` is None when some loss has no interval. `without_loss` counts open findings that no
    money is known of. `refused` says of each figure that lacks a price or factor which one is missing.
    """

    month_on: date
    zone: str
    currency: str
    as_of: datetime
    start: datetime
    end: datetime
    horizon: datetime
    hours: Decimal
    total: Totals
    areas: Mapping[str, Totals]
    open_end_by_state: Mapping[State, int]
    rates: Rates
    verified_share: Share
    checks: Checks
    backlog: BacklogAge
    time_to_repair: TimeToRepair
    releaks: Releaks
    accrued_width: Width | None
    without_loss: int
    credit_time: timedelta
    lines: tuple[FindingLine, ...]
    refused: Mapping[str, str] = field(default_factory=dict)


def month_figures(
    histories: Iterable[FindingHistory],
    prices: PriceSeries,
    month_on: date,
    zone: ZoneInfo,
    as_of: datetime,
    rules: MonthRules | None = None,
    *,
    strict: bool = True,
) -> MonthFigures:
    """Work out a site's month from its findings' histories.

    Only facts recorded by `as_of` count; dismissed and merged findings do not. Times to repair and
    re-leaks are over all histories given. Raises PriceGapsError where money lacks a price (unless
    `strict` is off: then what needs it is None and told in `refused`), LedgerError when counts do not
    balance, ValueError when the month has not begun at `as_of`.
    """
    rules, as_of = rules or MonthRules(), utc(as_of)
    start, end = _begun(month_on, zone, as_of)
    window = (start, min(end, as_of))
    counted = _counted(histories, as_of, window[1])
    known_prices = prices.known(as_of)
    gaps = Gaps(strict=False)
    lines = [line_of(finding, window, known_prices, rules.credit_time, gaps) for finding in counted]
    total = _balanced(lines, gaps if strict else None)
    return MonthFigures(
        month_on=month_on.replace(day=1),
        zone=str(zone),
        currency=prices.currency,
        as_of=as_of,
        start=start,
        end=end,
        horizon=window[1],
        hours=to_decimal(seconds_between(*window) / 3600),
        total=total,
        areas=_by_area(lines),
        open_end_by_state=_by_state(lines),
        rates=_rates(counted, lines, window, as_of >= end + timedelta(days=COHORT_DAYS), as_of),
        verified_share=share_of_counts(total.closed, total.closed + total.closed_by_reason),
        checks=checks_of(counted, window),
        backlog=_backlog(counted, window[1]),
        time_to_repair=time_to_repair(_repair_cases(counted, window[1])),
        releaks=releaks_of([case for item in counted for case in releak_cases(item, window[1])]),
        accrued_width=_accrued_width(lines, rules.shared),
        without_loss=sum(line.open_end and not line.has_loss for line in lines),
        credit_time=rules.credit_time,
        lines=tuple(line for line in lines if line.says_something),
        refused=_refused(gaps, total, known_prices, start),
    )


def _begun(month_on: date, zone: ZoneInfo, as_of: datetime) -> tuple[datetime, datetime]:
    start, end = month_bounds(month_on, zone)
    if as_of <= start:
        msg = "The month has not begun."
        raise ValueError(msg)
    return start, end


def _by_area(lines: Sequence[FindingLine]) -> dict[str, Totals]:
    areas = sorted({line.area for line in lines})
    return {area: total_of(line for line in lines if line.area == area) for area in areas}


def _by_state(lines: Sequence[FindingLine]) -> dict[State, int]:
    return {state: sum(line.state_at_end is state for line in lines) for state in sorted(OPEN_STATES)}


def _backlog(findings: Iterable[KnownFinding], moment: datetime) -> BacklogAge:
    return backlog_age([_aged(item, moment) for item in findings if item.state_at(moment) in OPEN_STATES])


def _counted(histories: Iterable[FindingHistory], as_of: datetime, horizon: datetime) -> list[KnownFinding]:
    known = (KnownFinding(history, as_of) for history in histories)
    return [item for item in known if item.is_counted and (item.found_at or horizon) < horizon]


def _balanced(lines: Sequence[FindingLine], gaps: Gaps | None) -> Totals:
    """Add the lines up; raises for the gaps given and for counts that do not balance."""
    if gaps is not None:
        _raise_gaps(gaps)
    total = total_of(lines)
    if not total.balances:
        msg = "The month's counts do not balance."
        raise LedgerError(msg)
    return total


def _raise_gaps(gaps: Gaps) -> None:
    """Raise the first gap of each finding, if there is any."""
    first: dict[str, PriceGapError] = {}
    for key, _, gap in gaps.found:
        first.setdefault(key, gap)
    if first:
        raise PriceGapsError(list(first.items()))


def _refused(gaps: Gaps, total: Totals, prices: KnownPrices, start: datetime) -> dict[str, str]:
    """Say of each figure which price it lacks, each price once with all the time it is missing."""
    wanting: dict[str, dict[str, PriceGapError]] = {}
    for _, figure, gap in gaps.found:
        named = wanting.setdefault(figure, {})
        named[gap.name] = gap if gap.name not in named else _wider(named[gap.name], gap)
    refused = {figure: " ".join(str(gap) for gap in named.values()) for figure, named in wanting.items()}
    missing = prices.missing_grid_factor(start)
    if total.co2e_kg is None and "accrued" not in refused and missing is not None:
        refused["co2e_kg"] = str(missing)
    return refused


def _wider(one: PriceGapError, other: PriceGapError) -> PriceGapError:
    ends = [gap.end for gap in (one, other) if gap.end is not None]
    return PriceGapError(one.name, min(one.start, other.start), max(ends) if len(ends) == 2 else None)


def _repair_cases(findings: Iterable[KnownFinding], horizon: datetime) -> list[Watched]:
    cases = (repair_case(finding, horizon) for finding in findings)
    return [case for case in cases if case is not None]


def _rates(
    findings: Sequence[KnownFinding],
    lines: Sequence[FindingLine],
    window: tuple[datetime, datetime],
    cohort_is_over: bool,
    as_of: datetime,
) -> Rates:
    base = [line for line in lines if line.in_rate_base]
    cleared = [line for line in base if line.cleared]
    ever_closed = sum(line.state_at_end is State.CLOSED for line in lines)
    cohort = [item for item in findings if item.found_at is not None and item.found_at >= window[0]]
    return Rates(
        throughput=share_of_counts(len(cleared), sum(line.found for line in lines), interval=False),
        clearance=share_of_counts(len(cleared), len(base)),
        cohort=cohort_share(_repair_cases(cohort, as_of), COHORT_DAYS) if cohort_is_over else None,
        by_flow=share_of_amounts(
            sum((line.rate_flow_m3_per_s for line in cleared), Decimal(0)),
            sum((line.rate_flow_m3_per_s for line in base), Decimal(0)),
        ),
        by_cost=_share_by_cost(cleared, base),
        ever=share_of_counts(ever_closed, len(lines)),
    )


def _share_by_cost(cleared: Sequence[FindingLine], base: Sequence[FindingLine]) -> Share:
    part, whole = (sum_or_none(line.rate_cost_per_year for line in lines) for lines in (cleared, base))
    if part is None or whole is None:
        return Share(Decimal(0), Decimal(0), None)
    return share_of_amounts(part, whole)


def _aged(finding: KnownFinding, moment: datetime) -> Aged:
    found_at = finding.found_at or moment
    reopened = [
        step.event.at
        for step in finding.steps
        if step.event.kind is EventKind.REOPENED and step.event.at < moment
    ]
    running = finding.rate_before(moment)
    return Aged(
        finding.history.finding_id,
        days_between(found_at, moment),
        days_between(reopened[-1] if reopened else found_at, moment),
        finding.deferred_until(moment) / timedelta(days=1),
        float(running.rate_m3_per_s) if running else None,
    )


def _accrued_width(lines: Sequence[FindingLine], shared: SharedUncertainty) -> Width | None:
    parts = []
    for line in lines:
        if line.accrued == 0:
            continue
        if line.accrued is None or line.accrued_u is None:
            return None
        parts.append((float(line.accrued), float(line.accrued_u)))
    return scale_width(width_of_sum(parts, shared.flow), 1.0, shared.energy)


@dataclass(frozen=True, slots=True)
class Difference:
    """What changed in a closed month by what became known later; booked with the date it became known."""

    accrued: Decimal
    avoided_verified: Decimal
    avoided_claimed: Decimal
    findings: tuple[str, ...]


def difference(as_closed: MonthFigures, as_known: MonthFigures) -> Difference:
    """Compare a month as closed with the same month as known later; the month as closed stays as it is."""
    columns = ("accrued", "avoided_verified", "avoided_claimed")
    if as_closed.month_on != as_known.month_on or as_closed.currency != as_known.currency:
        msg = "Only one month in one currency can be compared with itself."
        raise ValueError(msg)
    if any(getattr(month.total, name) is None for month in (as_closed, as_known) for name in columns):
        msg = "A month that lacks a price cannot be compared."
        raise ValueError(msg)
    then = {line.finding_id: line for line in as_closed.lines}
    now = {line.finding_id: line for line in as_known.lines}
    changed = tuple(
        key
        for key in dict.fromkeys([*then, *now])
        if [getattr(then.get(key), name, 0) for name in columns]
        != [getattr(now.get(key), name, 0) for name in columns]
    )
    money = [
        to_decimal(Fraction(getattr(as_known.total, name)) - Fraction(getattr(as_closed.total, name)))
        for name in columns
    ]
    return Difference(money[0], money[1], money[2], changed)
