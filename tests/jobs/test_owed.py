"""What is owed follows from what was done: a missed night, a lost message, a clock that jumps."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from plantcare.api.actor import Actor
from plantcare.jobs import actions
from plantcare.jobs.models import JobRun
from plantcare.jobs.owed import owed_periods, owed_steps
from plantcare.jobs.registry import job_named
from tests.jobs.declared import OVERSEAS, SITE

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 6, 9, 12, 0, tzinfo=UTC)


def owed(name: str = "nightly", now: datetime = NOON) -> list[tuple[object, str]]:
    return [(one.site_id, one.period) for one in owed_periods([job_named(name)], now)]


def make_good(now: datetime = NOON, name: str = "nightly") -> int:
    found = owed_periods([job_named(name)], now)
    for one in found:
        actions.run_job(
            name=name,
            actor=Actor.job(name),
            at=now,
            period=one.period,
            site_ids=None if one.site_id is None else [one.site_id],
            due_at=one.due_at,
        )
    return len(found)


def test_each_site_has_its_own_nights() -> None:
    # 06:00 in Berlin and 23:00 of the day before in Chicago.
    now = datetime(2026, 6, 9, 4, 0, tzinfo=UTC)

    assert [period for site, period in owed(now=now) if site == SITE][-1] == "2026-06-09"
    assert [period for site, period in owed(now=now) if site == OVERSEAS][-1] == "2026-06-08"


def test_missed_nights_are_made_good_once_as_many_as_declared() -> None:
    assert make_good() == 6
    assert make_good() == 0
    assert make_good(NOON + timedelta(days=10)) == 6


def test_a_night_done_for_one_site_is_still_owed_to_the_other() -> None:
    one = owed_periods([job_named("nightly")], NOON)[0]
    actions.run_job(name="nightly", actor=Actor.job("x"), at=NOON, period=one.period, site_ids=[one.site_id])

    assert (one.site_id, one.period) not in owed()
    assert len(owed()) == 5


def test_200_periods_with_three_senders_are_each_done_once(declared_jobs) -> None:
    for day in range(200):
        now = NOON + timedelta(days=day)
        found = owed_periods([job_named("daily")], now) * 3
        for one in found:
            actions.run_job(name="daily", actor=Actor.job("daily"), at=now, period=one.period)

    assert len(declared_jobs) == 200
    assert JobRun.objects.filter(outcome="done").values("period").distinct().count() == 200


def test_ten_dead_days_are_one_run_where_one_is_declared(declared_jobs) -> None:
    make_good(name="daily")
    make_good(NOON + timedelta(days=10), name="daily")

    assert len(declared_jobs) == 2


def test_a_clock_set_back_does_no_night_twice() -> None:
    make_good()

    assert make_good(NOON - timedelta(hours=2)) == 0


def test_a_clock_that_ran_days_ahead_owes_the_real_nights_again() -> None:
    make_good()
    make_good(NOON + timedelta(days=3))

    assert make_good(NOON + timedelta(days=1)) == 2
    assert make_good(NOON + timedelta(days=2)) == 2
    assert make_good(NOON + timedelta(days=3)) == 2


def test_a_failed_period_is_owed_again_after_a_growing_pause() -> None:
    period = owed("daily")[0][1]
    failed = {"job": "daily", "period": period, "requested_by": "job daily", "outcome": "failed"}
    JobRun.objects.create(**failed, started_at=NOON, ended_at=NOON)

    assert owed("daily", NOON + timedelta(minutes=14)) == []
    assert owed("daily", NOON + timedelta(minutes=15)) == [(None, period)]
    JobRun.objects.create(**failed, started_at=NOON, ended_at=NOON)
    assert owed("daily", NOON + timedelta(minutes=59)) == []
    assert owed("daily", NOON + timedelta(minutes=60)) == [(None, period)]


def test_a_run_whose_process_died_is_owed_again() -> None:
    period = owed("daily")[0][1]
    JobRun.objects.create(job="daily", period=period, requested_by="job daily", started_at=NOON)

    assert owed("daily") == [(None, period)]


class TestSteps:
    def due(self, now: datetime) -> bool:
        return bool(owed_steps([job_named("count")], now))

    def begun(self, at: datetime) -> None:
        actions.run_job(name="count", actor=Actor.job("count"), at=at, due_at=at)

    def test_a_step_is_owed_when_the_last_one_is_over(self) -> None:
        self.begun(NOON)

        assert not self.due(NOON + timedelta(seconds=59))
        assert self.due(NOON + timedelta(seconds=60))

    def test_a_clock_set_back_stops_no_step(self) -> None:
        self.begun(NOON)

        assert self.due(NOON - timedelta(hours=2))

    def test_what_somebody_ran_by_hand_is_no_step(self) -> None:
        actions.run_job(name="count", actor=Actor.job("count"), at=NOON)

        assert self.due(NOON)
