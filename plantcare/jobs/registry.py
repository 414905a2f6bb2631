"""Which jobs there are: declared in code by the apps above, found through the settings.

settings.PLANTCARE_JOBS is a tuple of dotted paths, each to a tuple of :class:`Job`. Paths, because
this floor imports nothing from above.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any, Protocol, cast

from django.conf import settings
from django.utils.module_loading import import_string

from plantcare.api.actor import Actor
from plantcare.api.problems import NotFound


class Work(Protocol):
    """What a job runs: one action that handles a bounded batch and returns what it did.

    It must bear being run twice, and at the same time as anything else. ``site_ids`` of None
    means every site.
    """

    def __call__(
        self, *, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None
    ) -> Mapping[str, Any] | int | None: ...


class WorkForOne(Protocol):
    """What a job does for one thing, asked for the moment there is something to do.

    It must bear being run twice, at the same time as anything else, and for a thing that is done or gone.
    The answer says whether it made something that the jobs after it should hear of.
    """

    def __call__(self, *, actor: Actor, at: datetime, subject: uuid.UUID) -> bool: ...


@dataclass(frozen=True, slots=True)
class Every:
    """A schedule of a fixed step."""

    seconds: int


@dataclass(frozen=True, slots=True)
class Cron:
    """A schedule by the clock, in UTC, with the usual crontab words."""

    minute: str = "*"
    hour: str = "*"
    day_of_week: str = "*"
    day_of_month: str = "*"
    month_of_year: str = "*"


# strftime forms of the period that a scheduled run stands for; "" means no period.
PERIODS: Mapping[str, str] = {
    "": "",
    "minute": "%Y-%m-%dT%H:%M",
    "hour": "%Y-%m-%dT%H",
    "day": "%Y-%m-%d",
    "month": "%Y-%m",
}


@dataclass(frozen=True, slots=True)
class Job:
    """One kind of scheduled work.

    ``run`` is the dotted path to a :class:`Work`. ``right`` is what a person needs, site by site,
    to start it by hand; None for housekeeping that only the schedule and the command line start.
    ``period`` (minute, hour, day, month) makes scheduled runs happen once per period, however
    many schedulers there are. ``run_for_one`` is the dotted path to a :class:`WorkForOne`, which
    :mod:`plantcare.jobs.asking` has done at once, within ``limit_s`` seconds; the scheduled run then
    finds what was lost. ``then`` names jobs, of any app, to be run after work for one thing: names,
    because nothing calls upward.
    """

    name: str
    title: str
    run: str
    right: str | None = "jobs"
    schedule: Every | Cron | None = None
    period: str = ""
    run_for_one: str = ""
    limit_s: int | None = None
    then: tuple[str, ...] = ()

    def work(self) -> Work:
        """Return the callable that the path names."""
        return cast(Work, import_string(self.run))

    def work_for_one(self) -> WorkForOne:
        """Return the callable for one thing. Raises JobUnknown where the job has none."""
        if not self.run_for_one:
            raise JobUnknown
        return cast(WorkForOne, import_string(self.run_for_one))

    def period_at(self, at: datetime) -> str:
        """Return the key of the period that a moment lies in (UTC), or an empty text."""
        return at.astimezone(UTC).strftime(PERIODS[self.period])


class JobUnknown(NotFound):
    """No job has that name."""


OWN = (
    Job(
        name="forget_idempotency_keys",
        title="Forget kept answers past their time",
        run="plantcare.jobs.actions.forget_idempotency_keys",
        right=None,
        schedule=Cron(minute="17", hour="3"),
        period="day",
    ),
    Job(
        name="forget_job_runs",
        title="Forget runs of more than 90 days ago",
        run="plantcare.jobs.actions.forget_job_runs",
        right=None,
        schedule=Cron(minute="27", hour="3"),
        period="day",
    ),
    Job(
        name="heartbeat",
        title="Show that the schedule is alive",
        run="plantcare.jobs.actions.heartbeat",
        right=None,
        schedule=Every(seconds=60),
    ),
)


@lru_cache(maxsize=4)
def _load(paths: tuple[str, ...]) -> dict[str, Job]:
    found: dict[str, Job] = {}
    for job in (job for path in paths for job in import_string(path)):
        if job.name in found:
            msg = f"Two jobs are named {job.name}."
            raise ValueError(msg)
        found[job.name] = job
    unknown = {name for job in found.values() for name in job.then} - found.keys()
    if unknown:
        msg = f"No job is named {', '.join(sorted(unknown))}."
        raise ValueError(msg)
    return found


def jobs() -> dict[str, Job]:
    """Return every declared job by name."""
    paths = settings.PLANTCARE_JOBS
    return _load((paths,) if isinstance(paths, str) else tuple(paths))


def job_named(name: str) -> Job:
    """Return one job; raise JobUnknown."""
    try:
        return jobs()[name]
    except KeyError:
        raise JobUnknown from None
