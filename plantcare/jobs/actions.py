"""Run a job once at a time, and keep what became of it."""

from __future__ import annotations

import logging
import time
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from billiard.exceptions import SoftTimeLimitExceeded
from django.db import IntegrityError, connection, transaction
from django.db.models import F
from django.utils import timezone

from plantcare.api.actor import Actor
from plantcare.api.idempotency import forget_expired
from plantcare.api.policy import access_policy
from plantcare.api.problems import NotFound
from plantcare.jobs import items
from plantcare.jobs.faults import passes
from plantcare.jobs.models import JobRun, Stumble, Tally
from plantcare.jobs.owed import CLOCK_RAN_AHEAD
from plantcare.jobs.registry import Job, job_named
from plantcare.jobs.results import recorded
from plantcare.jobs.turns import turn

logger = logging.getLogger(__name__)

RUNS_KEPT_FOR = timedelta(days=90)
ALREADY_RUNNING = "already running"
ALREADY_DONE = "this period is already done"
DIED = "ended without a report"
OUT_OF_TIME = "its time was up"
KILLED_BY = "The process died while it was at this."


class StumbleUnknown(NotFound):
    """Nothing with that id is parked."""


@dataclass(slots=True)
class _Report:
    """What a run did place by place, why it failed where it failed, and whether that passes by itself."""

    done: dict[uuid.UUID | None, dict[str, Any]] = field(default_factory=dict)
    failed: dict[uuid.UUID | None, str] = field(default_factory=dict)
    passing: Exception | None = None


def run_job(
    *,
    name: str,
    actor: Actor,
    at: datetime,
    period: str = "",
    site_ids: Sequence[uuid.UUID] | None = None,
    due_at: datetime | None = None,
    again: bool = False,
) -> JobRun:
    """Run a job now and return the record of it: done, failed or skipped.

    The same job runs once at a time (a session's advisory lock; a job for one site by itself); a named
    ``period`` is done once. The job keeps its own transactions, the record is written outside of them, so a
    failure rolls its work back and still is recorded. Raises JobUnknown, and with ``again`` what failed in
    passing, so that the caller may try once more.
    """
    job = job_named(name)
    facts: dict[str, Any] = {
        "job": job.name,
        "period": period,
        "requested_by": actor.name[:200],
        "site_id": site_ids[0] if site_ids is not None and len(site_ids) == 1 else None,
        "due_at": due_at,
        "started_at": at,
    }
    with turn(f"plantcare job {job.name} {facts['site_id'] or ''}") as held:
        if not held:
            return _skipped(facts, ALREADY_RUNNING)
        _close_the_dead(job, facts["site_id"], at)
        _set_aside_the_future(job, at)
        try:
            with transaction.atomic():
                run = JobRun.objects.create(**facts)
        except IntegrityError:
            return _skipped(facts, ALREADY_DONE)
        return _carried_out(job, run, actor=actor, at=at, site_ids=site_ids, again=again)


def let_go(*, stumble_id: uuid.UUID, site_ids: Sequence[uuid.UUID] | None) -> Stumble:
    """Take a parked thing up again with the next run, its failures counted anew. Raises StumbleUnknown."""
    rows = Stumble.objects.filter(pk=stumble_id)
    if site_ids is not None:
        rows = rows.filter(site_id__in=list(site_ids))
    rows.update(failures=0, parked_at=None)
    found = rows.first()
    if found is None:
        raise StumbleUnknown
    return found


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
    job: Job,
    run: JobRun,
    *,
    actor: Actor,
    at: datetime,
    site_ids: Sequence[uuid.UUID] | None,
    again: bool,
) -> JobRun:
    begun_s = time.monotonic()
    report = _worked(job, run, actor=actor, at=at, site_ids=site_ids)
    run.outcome = JobRun.Outcome.FAILED if report.failed else JobRun.Outcome.DONE
    run.result, run.error = recorded(report.done, report.failed)
    run.ended_at = timezone.now()
    run.duration_s = time.monotonic() - begun_s
    run.in_hand_id = None
    with transaction.atomic():
        run.save(update_fields=["outcome", "error", "result", "ended_at", "duration_s", "in_hand_id"])
        _tally(run)
    if again and report.passing is not None:
        raise report.passing
    return run


def _worked(
    job: Job, run: JobRun, *, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None
) -> _Report:
    """Do the work site by site, so that one site's trouble is its own and so are its figures."""
    places: Sequence[uuid.UUID | None] = [None]
    if job.right is not None:
        places = access_policy().all_sites() if site_ids is None else list(site_ids)
    report = _Report()
    for place in places:
        try:
            with items.under(job.name, run.pk, place, at) as inside:
                answer = job.work()(actor=actor, at=at, site_ids=None if place is None else [place])
        except SoftTimeLimitExceeded:
            logger.exception("job %s ran out of time at %s", job.name, place or "every site")
            report.failed[place] = OUT_OF_TIME
            _drop_connection()
            break
        except Exception as exc:
            logger.exception("job %s failed at %s", job.name, place or "every site")
            report.failed[place] = items.reason_of(exc)
            if passes(exc):
                report.passing = exc
                _drop_broken_connection()
        else:
            report.done[place] = dict(answer) if isinstance(answer, Mapping) else {"count": answer or 0}
            if inside.stumbled:
                report.done[place]["stumbled"] = len(inside.stumbled)
    return report


def _drop_broken_connection() -> None:
    """Let the record of the failure go over a new connection where the old one was cut."""
    if not connection.in_atomic_block and not connection.is_usable():
        connection.close()


def _drop_connection() -> None:
    """Leave a connection that may be in the middle of an answer; with it goes the job's lock."""
    if not connection.in_atomic_block:
        connection.close()


def _tally(run: JobRun) -> None:
    """Count the run; its row will be forgotten one day, the count won't."""
    Tally.objects.bulk_create([Tally(job=run.job, outcome=run.outcome)], ignore_conflicts=True)
    Tally.objects.filter(job=run.job, outcome=run.outcome).update(
        runs=F("runs") + 1, duration_s=F("duration_s") + (run.duration_s or 0.0)
    )


def _skipped(facts: Mapping[str, Any], reason: str) -> JobRun:
    skipped = JobRun.Outcome.SKIPPED
    run = JobRun.objects.create(**facts, ended_at=facts["started_at"], outcome=skipped, error=reason)
    _tally(run)
    return run


def _close_the_dead(job: Job, site_id: uuid.UUID | None, at: datetime) -> None:
    """Mark runs as failed whose process died: nobody else can hold the lock now.

    What such a run had in hand may have killed it, so it counts as that thing's failure.
    """
    dead = JobRun.objects.filter(job=job.name, site_id=site_id, outcome=JobRun.Outcome.RUNNING)
    for run in dead.filter(in_hand_id__isnull=False):
        assert run.in_hand_id is not None  # noqa: S101 - narrows the type
        items.note(job.name, run.site_id, run.in_hand_id, KILLED_BY, at)
    for run in dead:
        run.outcome, run.ended_at, run.error = JobRun.Outcome.FAILED, at, DIED
        run.save(update_fields=["outcome", "ended_at", "error"])
        _tally(run)


def _set_aside_the_future(job: Job, at: datetime) -> None:
    """Owe periods again that were done under a clock that ran ahead."""
    ahead = JobRun.objects.filter(job=job.name, started_at__gt=at + CLOCK_RAN_AHEAD).exclude(period="")
    ahead.exclude(outcome=JobRun.Outcome.RUNNING).update(period="")
