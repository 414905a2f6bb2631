"""One at a time: a lock of the database's session, by name."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection


@contextmanager
def turn(name: str) -> Iterator[bool]:
    """Hold the lock of this name for this session; yield whether it could be had.

    The lock spans several transactions and ends with the connection, so a killed process leaves none behind.
    """
    number = lock_number(name)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_lock(%s)", [number])
        (held,) = cursor.fetchone()
    try:
        yield held
    finally:
        if held:
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_unlock(%s)", [number])


def wait_turn(name: str) -> None:
    """Wait for the lock of this name and hold it until the present transaction ends."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [lock_number(name)])


def lock_number(name: str) -> int:
    """Return the number by which PostgreSQL knows the lock."""
    return int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], "big", signed=True)
