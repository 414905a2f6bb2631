"""Folders and programs of the standalone lane; nothing here knows the application."""

import contextlib
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from plantcare.standalone.account import database_account
from plantcare.standalone.binaries import PostgresPrograms, postgres_programs
from plantcare.standalone.supervisor import Supervisor
from plantcare.standalone.temporary import temporary_folder


@pytest.fixture
def folder() -> Iterator[Path]:
    """A folder that PostgreSQL's account can enter, which pytest's own is not."""
    with contextlib.ExitStack() as tidying:
        yield temporary_folder(tidying, database_account())


@pytest.fixture(scope="session")
def programs() -> Iterator[PostgresPrograms]:
    with contextlib.ExitStack() as tidying:
        yield postgres_programs(tidying, database_account())


@pytest.fixture
def supervisor() -> Iterator[Supervisor]:
    """A supervisor of this test; pytest gets its own handling of signals back."""
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)}
    try:
        with Supervisor() as one:
            yield one
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
