"""Show the schedules declared in code in the back office, where an operator may switch each off.

Only the switch is read back: what is due follows from the code and from what was done.
"""

from __future__ import annotations

import json
from collections.abc import Iterable

from django.db import transaction
from django_celery_beat.models import CrontabSchedule, IntervalSchedule, PeriodicTask, PeriodicTasks

from plantcare.jobs.registry import TASK, Cron, Every, Job

PREFIX = "job "


@transaction.atomic
def sync_schedule(jobs: Iterable[Job]) -> dict[str, int]:
    """Make the rows agree with the code; a row that an operator switched off stays off.

    Return how many were kept and how many removed. Rows of other tasks are left alone.
    """
    scheduled = [job for job in jobs if job.schedule is not None]
    for job in scheduled:
        PeriodicTask.objects.update_or_create(
            name=f"{PREFIX}{job.name}",
            defaults={
                "task": TASK,
                "kwargs": json.dumps({"name": job.name}),
                "description": job.title,
                "interval": None,
                "crontab": None,
                **_columns(job.schedule),
            },
        )
    names = [f"{PREFIX}{job.name}" for job in scheduled]
    gone = PeriodicTask.objects.filter(task=TASK, name__startswith=PREFIX).exclude(name__in=names)
    removed, _ = gone.delete()
    PeriodicTasks.update_changed()
    return {"kept": len(names), "removed": removed}


def _columns(schedule: Every | Cron | None) -> dict[str, object]:
    if isinstance(schedule, Every):
        interval, _ = IntervalSchedule.objects.get_or_create(
            every=schedule.seconds, period=IntervalSchedule.SECONDS
        )
        return {"interval": interval}
    if isinstance(schedule, Cron):
        crontab, _ = CrontabSchedule.objects.get_or_create(
            minute=schedule.minute,
            hour=schedule.hour,
            day_of_week=schedule.day_of_week,
            day_of_month=schedule.day_of_month,
            month_of_year=schedule.month_of_year,
            timezone="UTC",
        )
        return {"crontab": crontab}
    return {}
