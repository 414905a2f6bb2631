"""The one Celery task: run a named job as the schedule."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from plantcare.api.actor import Actor
from plantcare.jobs.actions import run_job
from plantcare.jobs.registry import job_named


@shared_task(name="plantcare.jobs.run")
def run(*, name: str, **_: object) -> str:
    """Run a job for the present period and return its outcome."""
    at = timezone.now()
    period = job_named(name).period_at(at)
    return str(run_job(name=name, actor=Actor.job(name), at=at, period=period).outcome)
