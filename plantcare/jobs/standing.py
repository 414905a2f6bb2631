"""How each job stands: when it last succeeded, how late it began, what is due next, what is parked."""

from __future__ import annotations

import uuid
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo

from django.db.models import Count, F, Max, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from plantcare.api.policy import access_policy
from plantcare.jobs.due import next_due
from plantcare.jobs.models import JobRun, Stumble, Tally
from plantcare.jobs.queries import SCHEDULED
from plantcare.jobs.registry import Cron, Every, Job

LONG_AGO = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Standing:
    """One job as it stands; times in UTC, lengths in seconds, None where nothing is known."""

    job: Job
    last_success_at: datetime | None
    next_due_at: datetime | None
    failures_in_a_row: int
    lag_s: float | None
    duration_s: float | None
    parked: int

    @property
    def is_late(self) -> bool:
        """Return whether its last scheduled run failed or something is parked."""
        return self.failures_in_a_row > 0 or self.parked > 0


def standings(
    jobs: Iterable[Job], now: datetime, site_ids: Sequence[uuid.UUID] | None = None
) -> list[Standing]:
    """Return how each scheduled job stands; with ``site_ids``, as seen from these sites."""
    rows = JobRun.objects.filter(requested_by__startswith=SCHEDULED)
    if site_ids is not None:
        rows = rows.filter(Q(site_id__isnull=True) | Q(site_id__in=list(site_ids)))
    successes = _last(rows.filter(outcome=JobRun.Outcome.DONE))
    begun = _last(rows.exclude(outcome=JobRun.Outcome.SKIPPED))
    failures, waiting = _failures(rows), parked_counts(site_ids)
    zones = _zones(jobs, site_ids)
    return [
        Standing(
            job=job,
            last_success_at=_moment(successes.get(job.name)),
            next_due_at=_next(job, now, begun.get(job.name), zones),
            failures_in_a_row=failures.get(job.name, 0),
            lag_s=_lag_s(begun.get(job.name)),
            duration_s=successes[job.name].duration_s if job.name in successes else None,
            parked=waiting[job.name],
        )
        for job in jobs
        if job.schedule is not None
    ]


def parked(site_ids: Sequence[uuid.UUID] | None = None) -> QuerySet[Stumble]:
    """Return what is parked, on these sites or everywhere; a door narrows it to the caller's sites."""
    rows = Stumble.objects.filter(parked_at__isnull=False)
    return rows if site_ids is None else rows.filter(site_id__in=list(site_ids))


def parked_counts(site_ids: Sequence[uuid.UUID] | None = None) -> Counter[str]:
    """Return how much each job has parked."""
    rows = parked(site_ids).values_list("job").annotate(count=Count("pk"))
    return Counter(dict(rows.values_list("job", "count")))


def tallies() -> list[Tally]:
    """Return the counts of all runs since the beginning."""
    return list(Tally.objects.order_by("job", "outcome"))


def _last(rows: QuerySet[JobRun]) -> dict[str, JobRun]:
    return {run.job: run for run in rows.order_by("job", "-started_at", "-id").distinct("job")}


def _failures(rows: QuerySet[JobRun]) -> dict[str, int]:
    """Count each job's failed runs since its last success."""
    success = rows.filter(job=OuterRef("job"), outcome=JobRun.Outcome.DONE).order_by().values("job")
    since = Coalesce(Subquery(success.annotate(at=Max("started_at")).values("at")), Value(LONG_AGO))
    failed = rows.filter(outcome=JobRun.Outcome.FAILED).annotate(since=since)
    counted = (
        failed.filter(started_at__gt=F("since")).order_by().values_list("job").annotate(count=Count("pk"))
    )
    return dict(counted.values_list("job", "count"))


def _zones(jobs: Iterable[Job], site_ids: Sequence[uuid.UUID] | None) -> list[tzinfo]:
    if not any(job.by_site for job in jobs):
        return []
    known = access_policy().time_zones()
    names = {zone for site, zone in known.items() if site_ids is None or site in site_ids}
    return [ZoneInfo(name) for name in sorted(names)]


def _next(job: Job, now: datetime, last: JobRun | None, zones: Sequence[tzinfo]) -> datetime | None:
    if isinstance(job.schedule, Cron):
        moments = [next_due(job, zone, now) for zone in (zones if job.by_site else [UTC])]
        return min((moment for moment in moments if moment is not None), default=None)
    if isinstance(job.schedule, Every) and last is not None:
        return last.started_at + timedelta(seconds=job.schedule.seconds)
    return now


def _lag_s(run: JobRun | None) -> float | None:
    if run is None or run.due_at is None:
        return None
    return max((run.started_at - run.due_at).total_seconds(), 0.0)


def _moment(run: JobRun | None) -> datetime | None:
    return None if run is None else run.started_at
