"""Run a job once at a time, and keep what became of it."""

from __future__ import annotations

import logging
import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.db import DatabaseError, IntegrityError, transaction
from django.utils import timezone

from plantcare.api.actor import Actor
from plantcare.api.idempotency import forget_expired
from plantcare.api.policy import access_policy
from plantcare.api.problems import Refusal
from plantcare.jobs.models import JobRun
from plantcare.jobs.registry import Job, job_named
from plantcare.jobs.results import recorded
from plantcare.jobs.turns import turn

logger = logging.getLogger(__name__)

RUNS_KEPT_FOR = timedelta(days=90)
ALREADY_RUNNING = "already running"
ALREADY_DONE = "this period is already done"
DIED = "ended without a report"


def run_job(
    *,
    name: str,
    actor: Actor,
    at: datetime,
    period: str = "",
    site_ids: Sequence[uuid.UUID] | None = None,
) -> JobRun:
    """Run a job now and return the record of it: done, failed or skipped.

    The same job runs once at a time (a session's advisory lock); a named ``period`` is done once.
    The job keeps its own transactions, the record is written outside of them, so a failure
    rolls its work back and still is recorded. Raises JobUnknown.
    """
    job = job_named(name)
    facts: dict[str, Any] = {
        "job": job.name,
        "period": period,
        "requested_by": actor.name[:200],
        "site_id": site_ids[0] if site_ids is not None and len(site_ids) == 1 else None,
        "started_at": at,
    }
    with turn(f"plantcare job {job.name}") as held:
        if not held:
            return _skipped(facts, ALREADY_RUNNING)
        _close_the_dead(job, at)
        try:
            with transaction.atomic():
                run = JobRun.objects.create(**facts)
        except IntegrityError:
            return _skipped(facts, ALREADY_DONE)
        return _carried_out(job, run, actor=actor, at=at, site_ids=site_ids)


def forget_job_runs(
    *,
    actor: Actor,  # noqa: ARG001 - the form of every job
    at: datetime,
    site_ids: Sequence[uuid.UUID] | None,  # noqa: ARG001
) -> dict[str, int]:
    """Delete the records of old runs."""
    deleted, _ = JobRun.objects.filter(started_at__lt=at - RUNS_KEPT_FOR).delete()
    return {"deleted": deleted}


def forget_idempotency_keys(
    *,
    actor: Actor,  # noqa: ARG001 - the form of every job
    at: datetime,
    site_ids: Sequence[uuid.UUID] | None,  # noqa: ARG001
) -> dict[str, int]:
    """Delete kept answers past their time."""
    return {"deleted": forget_expired(at=at)}


def heartbeat(
    *,
    actor: Actor,
    at: datetime,
    site_ids: Sequence[uuid.UUID] | None,
) -> None:
    """Do nothing; the record of the run is the sign of life."""


def _carried_out(
    job: Job, run: JobRun, *, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None
) -> JobRun:
    """Do the work site by site, so that one site's trouble is its own and so are its figures."""
    places: Sequence[uuid.UUID | None] = [None]
    if job.right is not None:
        places = access_policy().all_sites() if site_ids is None else list(site_ids)
    done, failed = {}, {}
    for place in places:
        try:
            answer = job.work()(actor=actor, at=at, site_ids=None if place is None else [place])
        except Exception as exc:
            logger.exception("job %s failed at %s", job.name, place or "every site")
            failed[place] = _told(exc)
        else:
            done[place] = dict(answer) if isinstance(answer, Mapping) else {"count": answer or 0}
    run.outcome = JobRun.Outcome.FAILED if failed else JobRun.Outcome.DONE
    run.result, run.error = recorded(done, failed)
    run.ended_at = timezone.now()
    run.save(update_fields=["outcome", "error", "result", "ended_at"])
    return run


def _told(exc: Exception) -> str:
    """Return what may be shown: a refusal's words, else the kind only (a text could hold SQL)."""
    name = type(exc).__name__
    if isinstance(exc, Refusal) and not isinstance(exc, DatabaseError):
        return f"{name}: {exc.detail}"[:300]
    return name[:300]


def _skipped(facts: Mapping[str, Any], reason: str) -> JobRun:
    skipped = JobRun.Outcome.SKIPPED
    return JobRun.objects.create(**facts, ended_at=facts["started_at"], outcome=skipped, error=reason)


def _close_the_dead(job: Job, at: datetime) -> None:
    """Mark runs as failed whose process died: nobody else can hold the lock now."""
    JobRun.objects.filter(job=job.name, outcome=JobRun.Outcome.RUNNING).update(
        outcome=JobRun.Outcome.FAILED, ended_at=at, error=DIED
    )
