"""A real Celery worker, on the broker and the database of the tests, with a queue of its own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings

from tests.processes.patience import PATIENCE_S, QUEUE, environment, wait_for


@pytest.fixture
def worker(tmp_path: Path, settings: Any) -> Iterator[subprocess.Popen[bytes]]:
    settings.CELERY_TASK_DEFAULT_QUEUE = QUEUE
    log = tmp_path / "worker.log"
    command = [
        *(sys.executable, "-m", "celery", "-A", "plantcare.celery:app", "worker"),
        *("--concurrency", "2", "--loglevel", "INFO", "--without-gossip", "--without-mingle"),
        *("--queues", QUEUE),
    ]
    with log.open("wb") as out:
        process = subprocess.Popen(command, env=environment(django_settings), stdout=out, stderr=out)
        try:
            wait_for(lambda: b"ready." in log.read_bytes(), process)
            yield process
        finally:
            process.terminate()
            process.wait(timeout=PATIENCE_S)
