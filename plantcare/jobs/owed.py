"""Which scheduled runs are owed now: read from the records of what was done, never from the queue."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Max, Q

from plantcare.api.policy import access_policy
from plantcare.jobs.due import Slot, due_slots
from plantcare.jobs.models import JobRun
from plantcare.jobs.registry import Cron, Every, Job

FIRST_PAUSE = timedelta(minutes=15)
LONGEST_PAUSE = timedelta(days=1)
"""A period that failed is owed again after a pause that grows fourfold with each failure."""

CLOCK_RAN_AHEAD = timedelta(days=1)
"""A run dated further in the future was made under a clock that ran ahead: its period is owed again.

Within a day a clock that is set back and one that is put right look alike; then what is done stays done.
"""

Key = tuple[str, uuid.UUID | None, str]


@dataclass(frozen=True, slots=True)
class Owed:
    """One run that should have begun."""

    job: Job
    site_id: uuid.UUID | None
    period: str
    due_at: datetime

    @property
    def key(self) -> Key:
        """Return what makes it this run and no other."""
        return (self.job.name, self.site_id, self.period)


def owed_periods(jobs: Iterable[Job], now: datetime) -> list[Owed]:
    """Return the periods that are due by their crontabs and not done, the oldest first."""
    wanted = {one.key: one for job in jobs for one in _slots(job, now)}
    rows = _records(wanted, now)
    owed = [one for key, one in wanted.items() if _is_owed(rows[key], now)]
    return sorted(owed, key=lambda one: one.due_at)


def owed_steps(jobs: Iterable[Job], now: datetime) -> list[Owed]:
    """Return the jobs of a fixed step of which no run began within the last step.

    A run dated in the future doesn't count: the clock was set back since.
    """
    stepped = [job for job in jobs if isinstance(job.schedule, Every)]
    rows = JobRun.objects.filter(
        job__in=[job.name for job in stepped], started_at__lte=now, due_at__isnull=False
    )
    began = dict(rows.values_list("job").annotate(last=Max("started_at")).values_list("job", "last"))
    return [
        Owed(job, None, "", now)
        for job in stepped
        if job.name not in began or now - began[job.name] >= _step(job)
    ]


def _step(job: Job) -> timedelta:
    assert isinstance(job.schedule, Every)  # noqa: S101 - narrows the type
    return timedelta(seconds=job.schedule.seconds)


def _slots(job: Job, now: datetime) -> Iterator[Owed]:
    if not isinstance(job.schedule, Cron):
        return
    if not job.by_site:
        yield from (Owed(job, None, slot.period, slot.due_at) for slot in due_slots(job, UTC, now))
        return
    by_zone: dict[str, list[Slot]] = {}
    for site_id, zone in access_policy().time_zones().items():
        if zone not in by_zone:
            by_zone[zone] = due_slots(job, ZoneInfo(zone), now)
        yield from (Owed(job, site_id, slot.period, slot.due_at) for slot in by_zone[zone])


def _records(wanted: Mapping[Key, Owed], now: datetime) -> Mapping[Key, list[tuple[str, datetime]]]:
    """Return outcome and end of the runs of these periods; those from a clock that ran ahead are left out."""
    found: dict[Key, list[tuple[str, datetime]]] = defaultdict(list)
    if not wanted:
        return found
    rows = JobRun.objects.filter(
        ~Q(outcome=JobRun.Outcome.SKIPPED),
        job__in={job for job, _, _ in wanted},
        period__in={period for _, _, period in wanted},
        started_at__lte=now + CLOCK_RAN_AHEAD,
    )
    for job, site_id, period, outcome, started_at in rows.values_list(
        "job", "site_id", "period", "outcome", "started_at"
    ):
        found[job, site_id, period].append((outcome, started_at))
    return found


def _is_owed(runs: list[tuple[str, datetime]], now: datetime) -> bool:
    """Owe what is not done; what failed, after a pause. One that seems to run may have died: ask again."""
    if any(outcome == JobRun.Outcome.DONE for outcome, _ in runs):
        return False
    failures = [started_at for outcome, started_at in runs if outcome == JobRun.Outcome.FAILED]
    if not failures:
        return True
    pause: timedelta = min(FIRST_PAUSE * 4 ** (len(failures) - 1), LONGEST_PAUSE)
    return (now - max(failures)) >= pause
