"""Ask the worker for work now. Asking is a hint: what it is about stands in the database already.

So a queue that is away, or that forgets, only makes the work later: a scheduled job finds what is left.
"""

from __future__ import annotations

import logging
import uuid
from functools import lru_cache, partial

from celery import Celery
from django.conf import settings
from django.db import transaction
from kombu.exceptions import OperationalError

from plantcare.jobs.registry import Job, job_named
from plantcare.jobs.schedule import EXPIRES_AFTER_S, TASK

logger = logging.getLogger(__name__)

TASK_FOR_ONE = "plantcare.jobs.run_for_one"
PATIENCE_S = 1.0
GRACE_S = 30
_QUICK = {
    # Nobody who waits for an answer waits for the queue: one try, and a second for each step of it.
    "socket_connect_timeout": PATIENCE_S,
    "socket_timeout": PATIENCE_S,
    "max_retries": 1,
    "interval_start": 0.0,
    "interval_step": 0.0,
    "interval_max": 0.0,
}


def ask_for_one(name: str, subject: uuid.UUID) -> None:
    """Have a job work on one thing as soon as the present transaction is kept. Raises JobUnknown."""
    job = job_named(name)
    send = partial(_send, TASK_FOR_ONE, {"name": name, "subject": str(subject)}, limit_s=job.limit_s)
    transaction.on_commit(send, robust=True)


def ask_next(job: Job) -> None:
    """Ask for the jobs that go on from what this one made."""
    for name in job.then:
        _send(TASK, {"name": name})


def _send(task: str, kwargs: dict[str, str], *, limit_s: int | None = None) -> None:
    limits = {} if limit_s is None else {"soft_time_limit": limit_s, "time_limit": limit_s + GRACE_S}
    try:
        _sender(settings.CELERY_BROKER_URL, settings.CELERY_TASK_DEFAULT_QUEUE).send_task(
            task, kwargs=kwargs, retry=False, ignore_result=True, expires=EXPIRES_AFTER_S, **limits
        )
    except (OperationalError, OSError) as exc:
        logger.warning("the queue is away, %s waits for the schedule: %s", kwargs, type(exc).__name__)


@lru_cache(maxsize=2)
def _sender(broker_url: str, queue: str) -> Celery:
    """Return an app that only sends; the worker's own stands above this floor and waits for ever."""
    app = Celery("plantcare.asking", broker=broker_url, set_as_current=False)
    app.conf.update(
        broker_transport_options=_QUICK, broker_connection_timeout=PATIENCE_S, task_default_queue=queue
    )
    return app
