"""Beat's tables agree with the code."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command
from django_celery_beat.models import PeriodicTask

from plantcare.jobs.registry import Every, Job
from plantcare.jobs.schedule import sync_schedule

pytestmark = pytest.mark.django_db


class TestSyncSchedule:
    def test_writes_each_declared_schedule(self):
        call_command("sync_schedule", stdout=StringIO())
        found = PeriodicTask.objects.get(name="job daily")
        assert (found.task, found.kwargs) == ("plantcare.jobs.run", '{"name": "daily"}')
        assert (found.crontab.hour, found.crontab.minute, str(found.crontab.timezone)) == ("4", "5", "UTC")

    def test_changes_nothing_the_second_time(self):
        call_command("sync_schedule", stdout=StringIO())
        before = PeriodicTask.objects.count()
        call_command("sync_schedule", stdout=StringIO())
        assert PeriodicTask.objects.count() == before

    def test_follows_a_changed_schedule(self):
        sync_schedule([Job(name="a", title="A", run="x.y", schedule=Every(seconds=60))])
        sync_schedule([Job(name="a", title="A", run="x.y", schedule=Every(seconds=90))])
        assert PeriodicTask.objects.get(name="job a").interval.every == 90

    def test_leaves_what_an_operator_switched_off(self):
        call_command("sync_schedule", stdout=StringIO())
        PeriodicTask.objects.filter(name="job daily").update(enabled=False)
        call_command("sync_schedule", stdout=StringIO())
        assert PeriodicTask.objects.get(name="job daily").enabled is False

    def test_removes_a_job_that_is_gone(self):
        sync_schedule([Job(name="old", title="Old", run="x.y", schedule=Every(seconds=60))])
        sync_schedule([])
        assert not PeriodicTask.objects.filter(name="job old").exists()
