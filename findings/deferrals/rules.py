"""Words of the deferrals room."""

from __future__ import annotations

from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

LONGEST_SAFETY_DEFERRAL: Final = timedelta(days=30)
"""Our judgement: a safety finding's deferral is looked at again within a month."""

LONGEST_DEFERRAL: Final = timedelta(days=365)
"""Our judgement: whatever waits is looked at again within a year."""


class DeferralReason(StrEnum):
    """Why a fault may wait."""

    SHUTDOWN_NEEDED = "shutdown_needed"
    PARTS = "parts"
    ACCESS = "access"
    ISOLATION_WORSE = "isolation_worse"
    BUDGET = "budget"


NOT_FOR_SAFETY: Final = frozenset({DeferralReason.BUDGET})
"""Money never lets a danger wait."""


class DeferralState(StrEnum):
    """Where a deferral stands at a moment."""

    REQUESTED = "requested"
    IN_FORCE = "in_force"
    LAPSED = "lapsed"
    REFUSED = "refused"
    ENDED = "ended"


def state_at(
    at: datetime,
    *,
    until_at: datetime,
    approved_at: datetime | None,
    refused_at: datetime | None,
    ended_at: datetime | None,
) -> DeferralState:
    """Tell where a deferral stands; past its term none is in force, whether or not a job has run."""
    if refused_at is not None:
        return DeferralState.REFUSED
    if ended_at is not None:
        return DeferralState.LAPSED if ended_at >= until_at else DeferralState.ENDED
    if until_at <= at:
        return DeferralState.LAPSED
    return DeferralState.IN_FORCE if approved_at is not None else DeferralState.REQUESTED


def longest_term(*, is_safety: bool) -> timedelta:
    """Return how long a finding may wait before somebody decides again."""
    return LONGEST_SAFETY_DEFERRAL if is_safety else LONGEST_DEFERRAL


def problems_of_request(
    *, reason: DeferralReason, is_safety: bool, at: datetime, until_at: datetime, interim_measures: str
) -> list[tuple[str, str, str]]:
    """List what refuses a request: member, code, text."""
    problems = []
    if is_safety and reason in NOT_FOR_SAFETY:
        problems.append(("reason", "not_for_safety", "Money never lets a danger wait."))
    if is_safety and not interim_measures.strip():
        text = "Say what keeps people safe meanwhile."
        problems.append(("interim_measures", "required", text))
    term = longest_term(is_safety=is_safety)
    if until_at <= at:
        problems.append(("until_at", "in_past", "The term has to end later than now."))
    elif until_at - at > term:
        problems.append(("until_at", "too_long", f"At most {term.days} days; ask again then."))
    return problems
