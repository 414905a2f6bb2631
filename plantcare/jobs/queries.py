"""What ran last."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db.models import QuerySet

from plantcare.jobs.models import JobRun


def last_runs() -> dict[str, JobRun]:
    """Return the last run of each job that wasn't skipped, by job name."""
    rows = JobRun.objects.exclude(outcome=JobRun.Outcome.SKIPPED)
    newest = rows.order_by("job", "-started_at", "-id").distinct("job")
    return {run.job: run for run in newest}


def runs_of(job: str) -> QuerySet[JobRun]:
    """Return the runs of a job."""
    return JobRun.objects.filter(job=job)


def failed_since(since: datetime) -> QuerySet[JobRun]:
    """Return the failed runs that began at or after a moment, newest first."""
    return JobRun.objects.filter(outcome=JobRun.Outcome.FAILED, started_at__gte=since).order_by(
        "-started_at", "-id"
    )


def age_of_heartbeat(at: datetime, jobs: Sequence[str] = ("heartbeat",)) -> timedelta | None:
    """Return how long ago the schedule last showed life; None if it never did."""
    rows = JobRun.objects.filter(job__in=jobs, outcome=JobRun.Outcome.DONE).order_by("-started_at")
    last = rows.values_list("started_at", flat=True).first()
    return None if last is None else at - last
