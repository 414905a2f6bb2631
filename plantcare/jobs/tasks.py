"""The Celery tasks: run a named job as the schedule, or have it work on one thing now."""

from __future__ import annotations

import uuid
from datetime import datetime

from celery import Task, shared_task
from django.utils import timezone

from plantcare.api.actor import Actor
from plantcare.jobs.actions import run_job
from plantcare.jobs.asking import ask_next
from plantcare.jobs.faults import PASSING, passes
from plantcare.jobs.lease import is_outdated
from plantcare.jobs.registry import TASK, TASK_FOR_ONE, job_named

LEASE = "beat"
OUTDATED = "outdated"
TRIES = 5
LONGEST_PAUSE_S = 60


@shared_task(
    name=TASK,
    bind=True,
    max_retries=TRIES,
    retry_backoff=2,
    retry_backoff_max=LONGEST_PAUSE_S,
    retry_jitter=True,
    autoretry_for=PASSING,
)
def run(
    self: Task,
    *,
    name: str,
    period: str | None = None,
    site_id: str | None = None,
    due_at: str | None = None,
    token: int | None = None,
    **_: object,
) -> str:
    """Run a job for the named period (without one, the present) and return its outcome.

    What a sender says who has lost its turn is left to its successor. What failed in passing (a server that
    restarts, a lock) is tried again after growing pauses of random length.
    """
    at = timezone.now()
    if is_outdated(LEASE, token):
        return OUTDATED
    try:
        done = run_job(
            name=name,
            actor=Actor.job(name),
            at=at,
            period=job_named(name).period_at(at) if period is None else period,
            site_ids=None if site_id is None else [uuid.UUID(site_id)],
            due_at=None if due_at is None else datetime.fromisoformat(due_at),
            again=self.request.retries < TRIES,
        )
    except PASSING as exc:
        if not passes(exc):
            return "failed"
        raise
    return str(done.outcome)


@shared_task(name=TASK_FOR_ONE)
def run_for_one(*, name: str, subject: str, **_: object) -> bool:
    """Have a job work on one thing; the record of it stands with the thing. Ask for what follows."""
    job = job_named(name)
    made = job.work_for_one()(actor=Actor.job(name), at=timezone.now(), subject=uuid.UUID(subject))
    if made:
        ask_next(job)
    return made
