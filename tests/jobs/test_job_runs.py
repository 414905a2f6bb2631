"""A job runs once at a time, once per period, and its end is kept."""

from __future__ import annotations

import threading
import uuid
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection

from plantcare.api.actor import Actor
from plantcare.jobs import actions, queries, tasks
from plantcare.jobs.models import JobRun
from plantcare.jobs.registry import JobUnknown, job_named
from tests.jobs import declared

AT = datetime(2026, 3, 2, 4, 5, tzinfo=UTC)


def run(name="count", **values):
    return actions.run_job(name=name, actor=Actor.job(name), at=values.pop("at", AT), **values)


@pytest.mark.django_db
class TestRunJob:
    def test_keeps_what_was_done(self):
        done = run()
        done.refresh_from_db()
        by_site = {str(declared.SITE): {"made": 1}}
        assert (done.outcome, done.result["by_site"], done.requested_by) == ("done", by_site, "job count")

    def test_hands_over_the_moment_and_each_site_by_itself(self, declared_jobs):
        other = uuid.uuid4()
        run(site_ids=[declared.SITE, other])
        assert [(call["at"], call["site_ids"]) for call in declared_jobs] == [
            (AT, [declared.SITE]),
            (AT, [other]),
        ]

    def test_keeps_that_it_failed_without_its_words(self):
        failed = run("fails")
        assert (failed.outcome, failed.result["failed"]) == ("failed", {str(declared.SITE): "RuntimeError"})

    def test_goes_on_with_the_next_site_when_one_fails(self, monkeypatch):
        other = uuid.uuid4()

        def choosy(*, site_ids, **_):
            return 1 if site_ids == [other] else 1 / 0

        monkeypatch.setattr(declared, "count", choosy)
        done = run(site_ids=[declared.SITE, other])
        assert (done.outcome, done.result["by_site"]) == ("failed", {str(other): {"count": 1}})

    def test_does_a_period_once(self, declared_jobs):
        assert [run(period="2026-03-02").outcome for _ in range(3)] == ["done", "skipped", "skipped"]
        assert len(declared_jobs) == 1

    def test_tries_a_failed_period_again(self):
        assert [run("fails", period="2026-03-02").outcome for _ in range(2)] == ["failed", "failed"]

    def test_runs_as_often_as_asked_without_a_period(self):
        assert [run().outcome for _ in range(2)] == ["done", "done"]

    def test_closes_the_record_of_a_process_that_died(self):
        dead = JobRun.objects.create(job="count", period="p", started_at=AT, requested_by="job count")
        assert run(period="p").outcome == "done"
        dead.refresh_from_db()
        assert (dead.outcome, dead.error) == ("failed", actions.DIED)

    def test_refuses_an_unknown_name(self):
        with pytest.raises(JobUnknown):
            run("nothing")


@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    def test_a_second_run_is_skipped_while_the_first_runs(self, monkeypatch):
        entered, leave, outcomes = threading.Event(), threading.Event(), []

        def slow(**_):
            entered.set()
            leave.wait(20)

        monkeypatch.setattr(declared, "count", slow)

        def first():
            outcomes.append(run().outcome)
            connection.close()

        thread = threading.Thread(target=first)
        thread.start()
        entered.wait(20)
        second = run()
        leave.set()
        thread.join()
        assert (second.outcome, second.error) == ("skipped", actions.ALREADY_RUNNING)
        assert outcomes == ["done"]

    def test_three_schedulers_do_a_period_once(self, declared_jobs):
        gate = threading.Barrier(3)

        def beat():
            gate.wait()
            run("daily", period="2026-03-02")
            connection.close()

        threads = [threading.Thread(target=beat) for _ in range(3)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert len(declared_jobs) == 1


class TestJob:
    def test_names_the_day_in_utc(self):
        late = datetime.fromisoformat("2026-03-02T23:30:00-05:00")
        assert job_named("daily").period_at(late) == "2026-03-03"

    def test_names_no_period_without_one(self):
        assert job_named("count").period_at(AT) == ""


@pytest.mark.django_db
class TestTask:
    def test_runs_a_period_once(self):
        assert [tasks.run(name="daily", later_argument=1) for _ in range(2)] == ["done", "skipped"]


@pytest.mark.django_db
class TestCommand:
    def test_runs_for_the_named_moment(self, declared_jobs):
        call_command("job", "count", at="2026-03-02T04:05:00Z", stdout=StringIO())
        assert declared_jobs[0]["at"] == AT

    def test_fails_when_the_job_does(self):
        with pytest.raises(CommandError, match="RuntimeError"):
            call_command("job", "fails", stdout=StringIO())

    def test_names_the_jobs_it_knows(self):
        with pytest.raises(CommandError, match="daily"):
            call_command("job", "nothing")

    @pytest.mark.parametrize("at", ["yesterday", "2026-03-02T04:05:00"])
    def test_refuses_a_moment_without_an_offset(self, at):
        with pytest.raises(CommandError, match="offset"):
            call_command("job", "count", at=at)


@pytest.mark.django_db
class TestQueries:
    def test_name_the_last_run_that_was_not_skipped(self):
        run(period="p")
        run(period="p", at=AT + timedelta(hours=1))
        assert queries.last_runs()["count"].started_at == AT

    def test_tell_a_site_nothing_of_what_was_run_for_another(self):
        here, there = uuid.uuid4(), uuid.uuid4()
        run()
        JobRun.objects.create(
            job="count",
            site_id=there,
            requested_by="Ines Falk",
            started_at=AT + timedelta(hours=1),
            ended_at=AT + timedelta(hours=1),
            outcome="done",
        )

        assert queries.last_runs([here])["count"].requested_by == "job count"
        assert queries.last_runs([there])["count"].requested_by == "Ines Falk"

    def test_find_failed_runs(self):
        run("fails")
        assert [found.job for found in queries.failed_since(AT)] == ["fails"]

    def test_tell_how_long_the_schedule_has_been_silent(self):
        assert queries.age_of_heartbeat(AT) is None
        run("heartbeat")
        assert queries.age_of_heartbeat(AT + timedelta(minutes=7)) == timedelta(minutes=7)


@pytest.mark.django_db
class TestHousekeeping:
    def test_forgets_old_runs(self):
        run()
        run("forget_job_runs", at=AT + actions.RUNS_KEPT_FOR + timedelta(seconds=1))
        assert list(JobRun.objects.values_list("job", flat=True)) == ["forget_job_runs"]

    def test_forgets_kept_answers(self):
        assert run("forget_idempotency_keys").result == {"deleted": 0}
