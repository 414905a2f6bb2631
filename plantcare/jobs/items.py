"""Work on many things in one run: what fails at one thing is noted and doesn't stop the rest.

An action loops over ``left(...)`` and does each thing inside ``with spared(...)``. Within a run of a job a
failure there is kept with its reason; after some tries the thing is parked: left alone until somebody lets it
go again. What passes by itself (a restart, a lock) is raised, for it says nothing of the thing. So is
everything outside of a run. A thing that kills the process is found by the mark that it was in hand.
"""

from __future__ import annotations

import logging
import uuid
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import datetime
from typing import TypeVar

from billiard.exceptions import SoftTimeLimitExceeded
from django.db import DatabaseError, connection
from django.db.models import F, Value
from django.db.models.functions import Coalesce

from plantcare.api.problems import Refusal
from plantcare.jobs.faults import passes
from plantcare.jobs.models import Stumble

logger = logging.getLogger(__name__)

FAILURES_TO_PARK = 5
ItemT = TypeVar("ItemT")

# One statement, and not worth waiting for the disk: a lost mark only delays the parking by one more death.
_MARK = """
WITH quick AS (SELECT set_config('synchronous_commit', 'off', true))
UPDATE jobs_jobrun SET in_hand_id = %s FROM quick WHERE id = %s
"""


@dataclass(slots=True)
class Under:
    """The run that is going on, and what stumbled in it so far."""

    job: str
    run_id: uuid.UUID
    site_id: uuid.UUID | None
    at: datetime
    known: set[uuid.UUID] | None = None
    stumbled: list[uuid.UUID] = field(default_factory=list)


_under: ContextVar[Under | None] = ContextVar("plantcare_job_run", default=None)


@contextmanager
def under(job: str, run_id: uuid.UUID, site_id: uuid.UUID | None, at: datetime) -> Iterator[Under]:
    """Let the things done inside belong to a run."""
    one = Under(job, run_id, site_id, at)
    token = _under.set(one)
    try:
        yield one
    finally:
        _under.reset(token)


def parked() -> list[uuid.UUID]:
    """Return what the present job has parked; outside of a run nothing is."""
    run = _under.get()
    if run is None:
        return []
    rows = Stumble.objects.filter(job=run.job, parked_at__isnull=False)
    return list(rows.values_list("item_id", flat=True))


@contextmanager
def spared(item_id: uuid.UUID) -> Iterator[None]:
    """Do one thing; its failure is noted and swallowed unless it passes by itself or time is up."""
    run = _under.get()
    if run is None:
        yield
        return
    _mark(run, item_id)
    try:
        yield
    except SoftTimeLimitExceeded:
        # The connection may have been cut in the middle of an answer.
        if not connection.in_atomic_block:
            connection.close()
        _noted(run, item_id, "It did not end within its time.")
        raise
    except Exception as exc:
        if passes(exc):
            raise
        logger.exception("job %s stumbled at %s", run.job, item_id)
        _noted(run, item_id, reason_of(exc))
    else:
        _forgotten(run, item_id)


def in_halves(
    rows: Sequence[ItemT], work: Callable[[Sequence[ItemT]], int], key: Callable[[ItemT], uuid.UUID]
) -> int:
    """Do a set at once and return the count of what was done; where it fails, halve it down to the one thing.

    ``work`` keeps a transaction of its own. Outside of a run a failure is raised.
    """
    if not rows:
        return 0
    if len(rows) == 1:
        with spared(key(rows[0])):
            return work(rows)
        return 0  # noted and spared
    try:
        return work(rows)
    except SoftTimeLimitExceeded:
        raise
    except Exception as exc:
        if _under.get() is None or passes(exc):
            raise
    middle = len(rows) // 2
    return in_halves(rows[:middle], work, key) + in_halves(rows[middle:], work, key)


def note(job: str, site_id: uuid.UUID | None, item_id: uuid.UUID, reason: str, at: datetime) -> None:
    """Count one more failure at a thing, and park it when it is one too many."""
    row, new = Stumble.objects.get_or_create(
        job=job,
        item_id=item_id,
        defaults={"site_id": site_id, "reason": reason[:300], "first_at": at, "last_at": at},
    )
    if new:
        return
    rows = Stumble.objects.filter(pk=row.pk)
    rows.update(failures=F("failures") + 1, reason=reason[:300], last_at=at)
    rows.filter(failures__gte=FAILURES_TO_PARK).update(parked_at=Coalesce(F("parked_at"), Value(at)))


def reason_of(exc: BaseException) -> str:
    """Return what may be shown: a refusal's words, else the kind only (a text could hold SQL)."""
    name = type(exc).__name__
    if isinstance(exc, Refusal) and not isinstance(exc, DatabaseError):
        return f"{name}: {exc.detail}"[:300]
    return name[:300]


def _mark(run: Under, item_id: uuid.UUID) -> None:
    with connection.cursor() as cursor:
        cursor.execute(_MARK, [item_id, run.run_id])


def _noted(run: Under, item_id: uuid.UUID, reason: str) -> None:
    run.stumbled.append(item_id)
    note(run.job, run.site_id, item_id, reason, run.at)


def _forgotten(run: Under, item_id: uuid.UUID) -> None:
    if run.known is None:
        run.known = set(Stumble.objects.filter(job=run.job).values_list("item_id", flat=True))
    if item_id in run.known:
        Stumble.objects.filter(job=run.job, item_id=item_id).delete()
