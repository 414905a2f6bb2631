"""Times to a verified repair, times to a re-leak, and whether repairs are checked."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from workorders.statements.rules.history import VERDICTS, EventKind, KnownFinding, State
from workorders.statements.rules.shares import Share, poisson_limits, share_of_counts
from workorders.statements.rules.survival import Curve, Watched, kaplan_meier
from workorders.statements.rules.time import days_between

RESTRICTED_TO_DAYS: Final = 60.0
DAYS_PER_YEAR: Final = 365.25


@dataclass(frozen=True, slots=True)
class TimeToRepair:
    """Days from found to a repair that was verified; open ones are censored.

    `by_30_days` and the median are None where the curve does not reach so far. The restricted mean
    is to `restricted_to_days`; the mean of the repaired ones alone is `biased_mean_of_repaired`: it flatters.
    """

    cases: int
    repaired: int
    median: float | None
    median_low: float | None
    median_high: float | None
    by_30_days: float | None
    restricted_mean: float | None
    restricted_to_days: float
    biased_mean_of_repaired: float | None


@dataclass(frozen=True, slots=True)
class Releaks:
    """How often verified repairs leak again at the same spot: shares, and rate per 100 point-years."""

    repairs: int
    releaks: int
    by_90_days: float | None
    by_180_days: float | None
    by_365_days: float | None
    point_years: float
    per_100_point_years: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Checks:
    """How far repairs of the month were checked. Partial is not passed; what is not due counts nowhere."""

    of_repairs: Share
    of_known_or_overdue: Share
    first_time_fix: Share
    overdue: int


def repair_case(finding: KnownFinding, horizon: datetime) -> Watched | None:
    """Give a finding's case for the time to a verified repair; None when it tells nothing.

    The event is the first repair whose last verdict is passed. Censored at the horizon, or when asset or
    branch went out of service, or at a closure by reason.
    """
    found_at = finding.found_at
    if found_at is None or found_at >= horizon or not finding.is_counted:
        return None
    repaired = next(
        (
            item.repaired_at
            for item in finding.repairs
            if item.verdict is EventKind.PASSED and item.repaired_at < horizon
        ),
        None,
    )
    gone = [
        step.event.at
        for step in finding.steps
        if step.after in {State.REMOVED, State.CLOSED_BY_REASON} and step.event.at < horizon
    ][:1]
    end = repaired or (gone[0] if gone else horizon)
    duration = days_between(found_at, end)
    watched_from = finding.history.watched_from
    entry = max(days_between(found_at, watched_from), 0.0) if watched_from else 0.0
    if entry > duration or (entry == duration and entry > 0):
        return None
    return Watched(duration, repaired is not None, entry)


def time_to_repair(cases: Sequence[Watched], restricted_to_days: float = RESTRICTED_TO_DAYS) -> TimeToRepair:
    """Summarise cases in days."""
    curve = kaplan_meier(cases)
    low, high = curve.median_interval
    done = [case.duration for case in cases if case.event]
    tau = min(restricted_to_days, curve.last_time)
    return TimeToRepair(
        cases=curve.cases,
        repaired=curve.events,
        median=curve.median,
        median_low=low,
        median_high=high,
        by_30_days=_reached_by(curve, 30),
        restricted_mean=curve.restricted_mean(tau) if cases else None,
        restricted_to_days=tau,
        biased_mean_of_repaired=sum(done) / len(done) if done else None,
    )


def cohort_share(cases: Sequence[Watched], days: float) -> float | None:
    """Give the share repaired within so many days of being found; None of no cases or too short a time."""
    return _reached_by(kaplan_meier(cases), days) if cases else None


def _reached_by(curve: Curve, days: float) -> float | None:
    if curve.cases == 0 or (curve.last_time < days and curve.survival_at(days) > 0):
        return None
    return 1 - curve.survival_at(days)


def releak_cases(finding: KnownFinding, horizon: datetime) -> list[Watched]:
    """Give a case for each verified repair: days until the spot leaked again, or was last known quiet."""
    cases = []
    for repair in finding.repairs:
        start = repair.repaired_at
        if repair.verdict is not EventKind.PASSED or start >= horizon:
            continue
        again = finding.first_after(EventKind.REOPENED, start)
        gone = finding.first_after(EventKind.REMOVED, start)
        end = min(moment for moment in (again, gone, horizon) if moment is not None)
        cases.append(
            Watched(days_between(start, end), again is not None and end == again and again < horizon)
        )
    return cases


def releaks_of(cases: Sequence[Watched]) -> Releaks:
    """Summarise re-leaks; the rate carries exact Poisson limits."""
    curve = kaplan_meier(cases)
    years = sum(case.duration for case in cases) / DAYS_PER_YEAR
    low, high = poisson_limits(curve.events)
    return Releaks(
        repairs=curve.cases,
        releaks=curve.events,
        by_90_days=_reached_by(curve, 90),
        by_180_days=_reached_by(curve, 180),
        by_365_days=_reached_by(curve, 365),
        point_years=years,
        per_100_point_years=100 * curve.events / years if years else None,
        low=100 * low / years if years else None,
        high=100 * high / years if years else None,
    )


def checks_of(findings: Iterable[KnownFinding], window: tuple[datetime, datetime]) -> Checks:
    """Count the checks of the repairs made in a window, as known at its end."""
    repairs = [
        (index, repair)
        for finding in findings
        for index, repair in enumerate(finding.repairs)
        if window[0] <= repair.repaired_at < window[1]
    ]
    passed = sum(repair.verdict is EventKind.PASSED for _, repair in repairs)
    known = sum(repair.verdict in VERDICTS for _, repair in repairs)
    overdue = sum(
        repair.verdict is None and repair.check_due_at is not None and repair.check_due_at < window[1]
        for _, repair in repairs
    )
    first = [repair.first_verdict for index, repair in repairs if index == 0 and repair.first_verdict]
    return Checks(
        share_of_counts(passed, len(repairs)),
        share_of_counts(passed, known + overdue),
        share_of_counts(sum(verdict is EventKind.PASSED for verdict in first), len(first)),
        overdue,
    )
