"""What fails at one thing is noted, parked after some tries, and doesn't stop the rest."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

import pytest
from billiard.exceptions import SoftTimeLimitExceeded
from django.db import OperationalError

from plantcare.api.actor import Actor
from plantcare.jobs import actions, items
from plantcare.jobs.models import JobRun, Stumble, Tally
from tests.jobs import declared

pytestmark = pytest.mark.django_db
AT = datetime(2026, 6, 9, 12, 0, tzinfo=UTC)
GOOD, BAD, LAST = (uuid.UUID(int=n) for n in (1, 2, 3))


def run(**values):
    return actions.run_job(name="count", actor=Actor.job("count"), at=AT, **values)


@pytest.fixture
def work(monkeypatch):
    """Let the job go over three things, one of which fails with what the test names."""
    trouble, done = {BAD: ValueError("SELECT secret")}, []

    def loop(**_):
        parked = items.parked()
        for item in (one for one in (GOOD, BAD, LAST) if one not in parked):
            with items.spared(item):
                if item in trouble:
                    raise trouble[item]
                done.append(item)
        return {"made": len(done)}

    monkeypatch.setattr(declared, "count", loop)
    return trouble, done


class TestSpared:
    def test_the_rest_is_done(self, work):
        ran = run()
        assert work[1] == [GOOD, LAST]
        assert (ran.outcome, ran.result["by_site"][str(declared.SITE)]["stumbled"]) == ("done", 1)

    def test_the_reason_is_kept_without_its_words(self, work):
        run()
        stumble = Stumble.objects.get()
        assert (stumble.item_id, stumble.site_id, stumble.reason) == (BAD, declared.SITE, "ValueError")

    def test_after_five_failures_it_is_left_alone(self, work):
        for _ in range(7):
            run()
        stumble = Stumble.objects.get()
        assert (stumble.failures, stumble.parked_at) == (5, AT)

    def test_a_success_forgets_it(self, work):
        run()
        work[0].clear()
        run()
        assert not Stumble.objects.exists()

    def test_let_go_it_is_taken_up_again(self, work):
        for _ in range(5):
            run()
        work[0].clear()
        actions.let_go(stumble_id=Stumble.objects.get().pk, site_ids=None)
        run()
        assert work[1].count(BAD) == 1
        assert not Stumble.objects.exists()

    def test_what_is_not_there_cannot_be_let_go(self):
        with pytest.raises(actions.StumbleUnknown):
            actions.let_go(stumble_id=uuid.uuid4(), site_ids=None)

    def test_what_passes_by_itself_says_nothing_of_the_thing(self, work):
        work[0][BAD] = OperationalError("the server went away")
        assert run().outcome == "failed"
        assert not Stumble.objects.exists()

    def test_outside_of_a_run_everything_is_raised(self):
        with pytest.raises(ValueError, match="x"), items.spared(BAD):
            raise ValueError("x")

    def test_time_that_is_up_ends_the_run_and_is_counted_on_the_thing(self, work):
        work[0][BAD] = SoftTimeLimitExceeded()
        ran = run()
        assert (ran.outcome, work[1]) == ("failed", [GOOD])
        assert ran.result["failed"] == {str(declared.SITE): actions.OUT_OF_TIME}
        assert Stumble.objects.get().item_id == BAD

    def test_what_kills_its_process_is_parked_in_the_end(self):
        for _ in range(5):
            JobRun.objects.create(
                job="count", requested_by="job count", started_at=AT, in_hand_id=BAD, site_id=None
            )
            run()
        stumble = Stumble.objects.get()
        assert (stumble.item_id, stumble.reason, stumble.parked_at) == (BAD, actions.KILLED_BY, AT)


class TestHalves:
    def test_the_one_that_fails_is_found(self, monkeypatch):
        done, rows = [], [uuid.UUID(int=n) for n in range(1, 12)]

        def work(part):
            if BAD in part:
                raise ValueError
            done.extend(part)
            return len(part)

        monkeypatch.setattr(
            declared, "count", lambda **_: {"made": items.in_halves(rows, work, lambda row: row)}
        )
        ran = run()
        assert sorted(done) == sorted(set(rows) - {BAD})
        assert ran.result["by_site"][str(declared.SITE)] == {"made": 10, "stumbled": 1}

    def test_nothing_is_nothing(self):
        assert items.in_halves([], len, lambda row: row) == 0


class TestTries:
    def test_a_fault_that_passes_is_raised_to_whoever_will_try_again(self, monkeypatch):
        def away(**_):
            raise OperationalError

        monkeypatch.setattr(declared, "count", away)
        with pytest.raises(OperationalError):
            run(again=True)
        assert JobRun.objects.get().outcome == "failed"

    def test_a_fault_of_the_work_is_not(self):
        assert actions.run_job(name="fails", actor=Actor.job("x"), at=AT, again=True).outcome == "failed"


def test_runs_are_counted_for_ever():
    run(period="p")
    run(period="p")
    JobRun.objects.all().delete()
    counted = {row.outcome: row.runs for row in Tally.objects.filter(job="count")}
    assert counted == {"done": 1, "skipped": 1}
