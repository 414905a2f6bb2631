"""The sender of the schedule: any number may run, one at a time has the turn.

What is owed is read from the records of what was done, so nothing depends on what this process remembers: a
night that was missed is made good, a message that was lost is sent again, and a clock that jumps neither
stops the schedule nor runs a period twice. Sending twice is harmless: a period is done once.
"""

from __future__ import annotations

import os
import socket
import time
import uuid
from collections.abc import Iterable
from typing import Any

from celery.beat import Scheduler
from celery.utils.log import get_logger
from django.db import Error, close_old_connections, connection
from django.utils import timezone
from django_celery_beat.models import PeriodicTask
from kombu.exceptions import OperationalError as BrokerError

from plantcare.jobs.lease import end_turn, take_turn
from plantcare.jobs.owed import Key, Owed, owed_periods, owed_steps
from plantcare.jobs.registry import TASK, Every, Job, jobs
from plantcare.jobs.schedule import PREFIX, sync_schedule
from plantcare.jobs.tasks import LEASE

logger = get_logger(__name__)

LOOK_EVERY_S = 5.0
"""How often the turn is renewed or asked for; with the length of a turn it bounds how long nobody sends."""

SEND_AGAIN_AFTER_S = 120.0
"""A period that was sent and shows in no record by then is sent again: the queue may have been emptied."""

LONGEST_IN_QUEUE_S = 600


class LeasedScheduler(Scheduler):
    """Beat with a lease: what Celery's own scheduler remembers of entries is not used at all."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self.holder = f"{socket.gethostname()[:60]}:{os.getpid()}:{uuid.uuid4().hex[:12]}"
        self.token: int | None = None
        self.sent: dict[Key, float] = {}
        super().__init__(*args, **kwargs)

    def setup_schedule(self) -> None:
        """Set nothing up: the schedule is declared in code."""

    def tick(self, *_: Any, **__: Any) -> float:
        """Take or renew the turn and send what is owed; return the seconds until the next look."""
        try:
            if not connection.in_atomic_block:
                close_old_connections()
            if self._has_turn():
                self._send_owed()
        except Error as exc:
            logger.warning("the schedule waits for the database: %s", type(exc).__name__)
            connection.close()
        except (BrokerError, OSError) as exc:
            logger.warning("the schedule waits for the queue: %s", type(exc).__name__)
        return self._pause_s()

    def should_sync(self) -> bool:
        """Keep nothing in this process that would have to be written down."""
        return False

    def close(self) -> None:
        """Give the turn back at once."""
        super().close()
        try:
            end_turn(LEASE, self.holder)
        except Error:
            connection.close()

    @property
    def info(self) -> str:
        """Say who this is, at the start."""
        return f"    . turn -> {self.holder}"

    def _has_turn(self) -> bool:
        token = take_turn(LEASE, self.holder)
        if token is not None and token != self.token:
            logger.info("this process sends the schedule now (turn %s)", token)
            self.sent.clear()
            sync_schedule(jobs().values())
        elif token is None and self.token is not None:
            logger.warning("another process sends the schedule now")
        self.token = token
        return token is not None

    def _send_owed(self) -> None:
        now = timezone.now()
        active = _switched_on(jobs().values())
        for owed in [*owed_steps(active, now), *owed_periods(active, now)]:
            again_s = (
                owed.job.schedule.seconds if isinstance(owed.job.schedule, Every) else SEND_AGAIN_AFTER_S
            )
            if time.monotonic() - self.sent.get(owed.key, -1e9) >= again_s:
                self._send(owed)

    def _send(self, owed: Owed) -> None:
        """Send one; the producer tries a few times within the broker's bounded timeouts, then gives up."""
        step = owed.job.schedule
        self.app.send_task(
            TASK,
            kwargs={
                "name": owed.job.name,
                "period": owed.period,
                "site_id": None if owed.site_id is None else str(owed.site_id),
                "due_at": owed.due_at.isoformat(),
                "token": self.token,
            },
            expires=max(step.seconds, 60) if isinstance(step, Every) else LONGEST_IN_QUEUE_S,
            soft_time_limit=owed.job.soft_limit_s,
            time_limit=owed.job.hard_limit_s,
            producer=self.producer,
            retry=True,
            retry_policy={"max_retries": 1, "interval_start": 0.2, "interval_max": 0.5},
        )
        self.sent[owed.key] = time.monotonic()
        logger.info("sent %s %s", owed.job.name, owed.period)

    def _pause_s(self) -> float:
        steps = [job.schedule.seconds for job in jobs().values() if isinstance(job.schedule, Every)]
        return float(min([LOOK_EVERY_S, *steps]))


def _switched_on(declared: Iterable[Job]) -> list[Job]:
    """Leave out what an operator has switched off in the back office."""
    off = PeriodicTask.objects.filter(task=TASK, enabled=False).values_list("name", flat=True)
    names = {name.removeprefix(PREFIX) for name in off}
    return [job for job in declared if job.schedule is not None and job.name not in names]
