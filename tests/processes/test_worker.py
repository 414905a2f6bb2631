"""A real Celery worker on a real broker runs the jobs of a real database."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from django.conf import settings
from django.db import connection

from plantcare.celery import app
from plantcare.jobs.models import JobRun
from plantcare.jobs.schedule import TASK
from tests.findings.chain import Plant
from workorders.orders.models import WorkOrder

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.processes]

PATIENCE_S = 60


def database_url() -> str:
    """Return the address of the test database, as a process of its own reads it."""
    at: dict[str, Any] = connection.settings_dict
    user, password = quote(str(at["USER"])), quote(str(at["PASSWORD"]))
    return f"postgres://{user}:{password}@{at['HOST']}:{at['PORT']}/{at['NAME']}"


@pytest.fixture
def worker(tmp_path: Path) -> Iterator[subprocess.Popen[bytes]]:
    log = tmp_path / "worker.log"
    command = [
        *(sys.executable, "-m", "celery", "-A", "plantcare.celery:app", "worker"),
        *("--concurrency", "2", "--loglevel", "INFO", "--without-gossip", "--without-mingle"),
        *("--queues", "test-worker"),
    ]
    environment = os.environ | {"DATABASE_URL": database_url(), "REDIS_URL": settings.REDIS_URL}
    environment.pop("PYTEST_VERSION", None)
    with log.open("wb") as out:
        process = subprocess.Popen(command, env=environment, stdout=out, stderr=out)
        try:
            _wait(lambda: b"ready." in log.read_bytes(), process)
            yield process
        finally:
            process.terminate()
            process.wait(timeout=PATIENCE_S)


def _wait(true: Any, process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + PATIENCE_S
    while not true():
        assert process.poll() is None, "the worker ended"
        assert time.monotonic() < until, "it did not happen in time"
        time.sleep(0.1)


def send(name: str) -> None:
    app.send_task(TASK, kwargs={"name": name}, queue="test-worker")


def test_it_opens_the_orders_that_are_due(worker: subprocess.Popen[bytes]) -> None:
    finding = Plant().leak(30.0)
    send("open_due_orders")
    _wait(lambda: JobRun.objects.filter(job="open_due_orders", outcome="done").exists(), worker)

    assert WorkOrder.objects.get().site_id == finding.site_id


def test_a_message_that_comes_twice_does_its_work_once(worker: subprocess.Popen[bytes]) -> None:
    Plant().leak(30.0)
    for _ in range(4):
        send("open_due_orders")
    _wait(lambda: JobRun.objects.filter(job="open_due_orders", ended_at__isnull=False).count() >= 4, worker)

    assert WorkOrder.objects.count() == 1


def test_an_unknown_job_does_not_stop_the_worker(worker: subprocess.Popen[bytes]) -> None:
    send("no_such_job")
    send("heartbeat")
    _wait(lambda: JobRun.objects.filter(job="heartbeat", outcome="done").exists(), worker)

    assert worker.poll() is None
