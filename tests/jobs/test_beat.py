"""The sender of the schedule: one at a time, from the records, bearing that a server is away."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import OperationalError
from django_celery_beat.models import PeriodicTask
from kombu.exceptions import OperationalError as BrokerError

from plantcare.celery import app
from plantcare.jobs import beat, tasks
from plantcare.jobs.lease import take_turn
from plantcare.jobs.models import JobRun
from plantcare.jobs.registry import TASK, jobs

pytestmark = pytest.mark.django_db
NOON = datetime(2026, 6, 9, 12, 0, tzinfo=UTC)


class Sender(beat.LeasedScheduler):
    """A sender whose messages are kept instead of sent."""

    def __init__(self):
        self.messages = []
        super().__init__(app=app, lazy=True)

    def _send(self, owed):
        self.messages.append((owed.job.name, owed.period))
        self.sent[owed.key] = beat.time.monotonic()


@pytest.fixture
def clock():
    with time_machine.travel(NOON, tick=False) as moved:
        yield moved


def deliver(sender):
    for name, period in sender.messages:
        tasks.run(name=name, period=period, due_at=NOON.isoformat())
    sent, sender.messages = sender.messages, []
    return sent


def test_all_that_is_owed_is_sent_at_the_first_look(clock):
    sender = Sender()
    sender.tick()
    assert {name for name, _ in sender.messages} == {job.name for job in jobs().values() if job.schedule}


def test_the_second_sends_nothing_while_the_first_has_the_turn(clock):
    first, second = Sender(), Sender()
    first.tick()
    second.tick()
    assert (len(first.messages) > 0, second.messages) == (True, [])


def test_the_second_goes_on_when_the_first_ends(clock):
    first, second = Sender(), Sender()
    first.tick()
    first.close()
    second.tick()
    assert len(second.messages) > 0


def test_a_sender_that_lost_its_turn_stops(clock):
    first = Sender()
    first.tick()
    first.messages.clear()
    beat.end_turn(beat.LEASE, first.holder)
    take_turn(beat.LEASE, "another")
    first.tick()
    assert (first.messages, first.token) == ([], None)


def test_what_an_outdated_sender_left_in_the_queue_is_not_run(clock):
    first = take_turn(beat.LEASE, "a")
    beat.end_turn(beat.LEASE, "a")
    take_turn(beat.LEASE, "b")
    assert tasks.run(name="count", period="", token=first) == tasks.OUTDATED
    assert not JobRun.objects.exists()


def test_what_was_sent_is_not_sent_again_at_once_and_what_was_lost_is_later(clock, monkeypatch):
    sender = Sender()
    sender.tick()
    sender.messages.clear()
    sender.tick()
    again_at_once = list(sender.messages)
    ahead = beat.time.monotonic() + beat.SEND_AGAIN_AFTER_S
    monkeypatch.setattr(beat.time, "monotonic", lambda: ahead + 1)
    sender.tick()
    assert again_at_once == []
    assert "daily" in {name for name, _ in sender.messages}


def test_a_clock_set_back_two_hours_goes_on_with_the_steps(clock, monkeypatch):
    sender = Sender()
    sender.tick()
    deliver(sender)
    clock.move_to(NOON - timedelta(hours=2))
    ahead = beat.time.monotonic() + 61
    monkeypatch.setattr(beat.time, "monotonic", lambda: ahead)
    sender.tick()
    assert {name for name, _ in sender.messages} == {"count", "heartbeat"}


def test_what_an_operator_switched_off_is_not_sent(clock):
    sender = Sender()
    sender.tick()
    sender.sent.clear()
    sender.messages.clear()
    PeriodicTask.objects.filter(name="job daily").update(enabled=False)
    sender.tick()
    assert "daily" not in {name for name, _ in sender.messages}


@pytest.mark.parametrize("trouble", [OperationalError, BrokerError, ConnectionRefusedError])
def test_a_server_that_is_away_is_waited_for(clock, monkeypatch, trouble):
    sender = Sender()

    def away(_owed):
        raise trouble

    monkeypatch.setattr(sender, "_send", away)
    monkeypatch.setattr(beat.connection, "close", lambda: None)
    assert 0 < sender.tick() <= beat.LOOK_EVERY_S


def test_a_message_carries_the_limits_of_its_job_and_the_turn(clock, monkeypatch):
    sent = []
    monkeypatch.setattr(app, "send_task", lambda name, **options: sent.append((name, options)))
    sender = beat.LeasedScheduler(app=app, lazy=True)
    sender.tick()
    name, options = next(one for one in sent if one[1]["kwargs"]["name"] == "heartbeat")
    job = jobs()["heartbeat"]
    assert name == TASK
    assert (options["soft_time_limit"], options["time_limit"]) == (job.soft_limit_s, job.hard_limit_s)
    assert options["kwargs"]["token"] == 1
