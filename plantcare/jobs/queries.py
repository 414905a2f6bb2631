"""What ran last."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from datetime import datetime, timedelta

from django.db.models import Q, QuerySet

from plantcare.api.actor import Actor
from plantcare.jobs.models import JobRun
from plantcare.jobs.results import told

SCHEDULED = Actor.job("").name
"""How the name of whoever asks for a scheduled run begins."""


def last_runs(site_ids: Sequence[uuid.UUID] | None = None) -> dict[str, JobRun]:
    """Return the last run of each job that wasn't skipped, by job name.

    With ``site_ids`` only scheduled runs, which are everybody's, and those that worked for these sites.
    """
    rows = JobRun.objects.exclude(outcome=JobRun.Outcome.SKIPPED)
    if site_ids is not None:
        scheduled = Q(site_id__isnull=True, requested_by__startswith=SCHEDULED)
        names = [str(site) for site in site_ids]
        worked = Q(result__by_site__has_any_keys=names) | Q(result__failed__has_any_keys=names)
        rows = rows.filter(Q(site_id__in=site_ids) | scheduled | worked)
    newest = rows.order_by("job", "-started_at", "-id").distinct("job")
    return {run.job: run for run in newest}


def seen_from(run: JobRun, site_ids: Collection[uuid.UUID] | None) -> JobRun:
    """Return the run with the figures and failures of these sites only (None: of all); never save it."""
    run.result, run.error = told(run.result, run.error, site_ids)
    return run


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
