"""Processes beside the tests: what they are told, and how long they are waited for."""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from django.db import connection

PATIENCE_S = 60
QUEUE = "test-worker"


def database_url() -> str:
    """Return the address of the test database, as a process of its own reads it."""
    at: dict[str, Any] = connection.settings_dict
    user, password = quote(str(at["USER"])), quote(str(at["PASSWORD"]))
    return f"postgres://{user}:{password}@{at['HOST']}:{at['PORT']}/{at['NAME']}"


def environment(settings: Any) -> dict[str, str]:
    """Return what a process of ours has to know; it doesn't take itself for a test."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTEST_VERSION"}
    return kept | {
        "DATABASE_URL": database_url(),
        "REDIS_URL": settings.REDIS_URL,
        "PLANTCARE_RECORDINGS_DIR": settings.RECORDINGS_DIR,
        "DJANGO_SETTINGS_MODULE": "plantcare.settings",
    }


def wait_for(true: Callable[[], bool], process: subprocess.Popen[bytes]) -> None:
    """Wait until something is so, while the process lives."""
    until = time.monotonic() + PATIENCE_S
    while not true():
        assert process.poll() is None, "the process ended"
        assert time.monotonic() < until, "it did not happen in time"
        time.sleep(0.1)
