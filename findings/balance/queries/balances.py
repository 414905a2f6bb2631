"""The leak balance of a supply system, as it is answered."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final

from findings.balance.queries import figures
from findings.balance.queries.losing import since_test, system_now
from findings.balance.queries.passes import heard_by_both
from findings.balance.rules import SinceTest, missed, reconcile, remarks
from findings.supply import queries as supply
from findings.supply.models import LeakTest, SupplySystem
from findings.surveys.models import Survey

MOST_NAMED: Final = 500
"""So many findings are named in one answer, the largest first; all of them count."""


def leak_balance(
    system: SupplySystem, at: datetime, surveys: tuple[Survey, Survey] | None = None
) -> dict[str, Any]:
    """Return the measured total against the findings' sum at a moment, and leaks two surveys missed."""
    test = supply.latest_leak_test(system.pk, at)
    since = SinceTest() if test is None else since_test(system.pk, test.taken_at, at)
    now = system_now(system, at, test)
    told = reconcile(now, at, since)
    drawn = told.balance
    return {
        "system_id": system.pk,
        "at": at,
        "test": _test(test),
        "measured": figures.figure(told.measured, "_m3_per_s"),
        "explained": figures.figure(drawn.explained, "_m3_per_s"),
        "unexplained": figures.figure(drawn.unexplained, "_m3_per_s"),
        "unexplained_share": figures.figure(drawn.share),
        "verdict": drawn.verdict.value,
        "is_significant": told.is_significant,
        "p": drawn.p,
        "finding_count": len(now.leaks),
        "without_flow": now.without_flow,
        "findings": [figures.leak(one) for one in now.leaks[:MOST_NAMED]],
        "currency": now.currency,
        "cost_of_measured": figures.cost(told.total_cost),
        "cost_of_unexplained": figures.cost(told.unexplained_cost),
        "reasons": figures.reasons(told.reasons),
        "missed": None if surveys is None else _missed(system, *surveys),
    }


def _test(test: LeakTest | None) -> dict[str, Any] | None:
    if test is None:
        return None
    return {
        "id": test.pk,
        "method": test.method,
        "taken_at": test.taken_at,
        "pressure_gauge_pa": test.pressure_gauge_pa,
        "source": test.source,
    }


def _missed(system: SupplySystem, first: Survey, second: Survey) -> dict[str, Any]:
    heard = heard_by_both(system.pk, first, second)
    told = missed(heard)
    return {
        "first_survey_id": first.pk,
        "second_survey_id": second.pk,
        "heard_by_first": heard.first,
        "heard_by_second": heard.second,
        "heard_by_both": heard.both,
        "there": figures.figure(told.there),
        "missed": figures.figure(told.missed),
        "first_found": told.first_found,
        "second_found": told.second_found,
        "reasons": figures.reasons(remarks(heard)),
    }
