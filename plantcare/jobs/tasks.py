"""The Celery tasks: run a named job as the schedule, or have it work on one thing now."""

from __future__ import annotations

import uuid

from celery import shared_task
from django.utils import timezone

from plantcare.api.actor import Actor
from plantcare.jobs.actions import run_job
from plantcare.jobs.asking import TASK_FOR_ONE, ask_next
from plantcare.jobs.registry import job_named
from plantcare.jobs.schedule import TASK


@shared_task(name=TASK)
def run(*, name: str, **_: object) -> str:
    """Run a job for the present period and return its outcome."""
    at = timezone.now()
    period = job_named(name).period_at(at)
    return str(run_job(name=name, actor=Actor.job(name), at=at, period=period).outcome)


@shared_task(name=TASK_FOR_ONE)
def run_for_one(*, name: str, subject: str, **_: object) -> bool:
    """Have a job work on one thing; the record of it stands with the thing. Ask for what follows."""
    job = job_named(name)
    made = job.work_for_one()(actor=Actor.job(name), at=timezone.now(), subject=uuid.UUID(subject))
    if made:
        ask_next(job)
    return made
