"""Makers for the tests of the standalone lane."""

import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from plantcare.standalone.account import database_account
from plantcare.standalone.binaries import PostgresPrograms
from plantcare.standalone.datafolder import PROJECT
from plantcare.standalone.postgres import Postgres
from plantcare.standalone.processes import POLITE, Farewell, Program

BARE_ENVIRONMENT = {
    "PATH": os.defpath,
    "HOME": "/nonexistent",
    "LANG": "C.UTF-8",
    "PYTHONDONTWRITEBYTECODE": "1",
}


def make_postgres(programs: PostgresPrograms, folder: Path, *, kept: bool = False) -> Postgres:
    return Postgres(
        programs=programs,
        folder=folder / "postgres",
        logs=folder,
        password="tarnbeck",
        account=database_account(),
        kept=kept,
    )


def make_program(folder: Path, code: str, *, name: str = "stand-in", farewell: Farewell = POLITE) -> Program:
    """Return a small Python program as a stand-in for a server."""
    command = [sys.executable, "-c", code]
    return Program(name, command, folder / f"{name}.log", BARE_ENVIRONMENT, folder, farewell=farewell)


def run_plantcare(
    *words: str, environment: Mapping[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    """Run `python -m plantcare` in an empty environment, as a user would in a fresh shell."""
    return run_python("-m", "plantcare", *words, environment=environment)


def run_python(*words: str, environment: Mapping[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    command: Sequence[str] = [sys.executable, *words]
    return subprocess.run(
        command,
        cwd=PROJECT,
        env=BARE_ENVIRONMENT | dict(environment or {}),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
