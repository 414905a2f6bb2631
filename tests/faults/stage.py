"""A whole service on servers of its own, whose every process can be killed, stopped and started again."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import psycopg

from plantcare.standalone.account import database_account
from plantcare.standalone.binaries import postgres_programs, redis_program
from plantcare.standalone.datafolder import PROJECT, DataFolder, Secrets
from plantcare.standalone.environment import application_environment, clean_environment
from plantcare.standalone.ports import HOST, free_port
from plantcare.standalone.postgres import Postgres
from plantcare.standalone.processes import Child, Program, launch
from plantcare.standalone.redis_server import RedisServer, answers
from plantcare.standalone.supervisor import Supervisor
from plantcare.standalone.temporary import temporary_folder

PATIENCE_S = 240.0
CELERY = (sys.executable, "-m", "celery", "--app", "plantcare.celery:app")


def wait_until(true: Callable[[], bool], what: str, limit_s: float = PATIENCE_S) -> None:
    """Wait for a condition; a slow machine has all the time it may need."""
    end_s = time.monotonic() + limit_s
    while not true():
        if time.monotonic() > end_s:
            message = f"{what} did not happen within {limit_s:.0f} s"
            raise TimeoutError(message)
        time.sleep(0.1)


@dataclass
class Stage:
    """The processes by name, and how to start each of them again."""

    supervisor: Supervisor
    folder: DataFolder
    postgres: Postgres
    redis: RedisServer
    database_port: int
    redis_port: int
    redis_password: str
    web_port: int = field(default_factory=free_port)
    children: dict[str, Child] = field(default_factory=dict)

    @property
    def owner_url(self) -> str:
        """Return the address that the service itself uses."""
        return f"postgres://plantcare:{self.postgres.password}@{HOST}:{self.database_port}/plantcare"

    def connect(self, *, superuser: bool = False) -> psycopg.Connection[Any]:
        """Return a connection of the observer."""
        return psycopg.connect(
            host=HOST,
            port=self.database_port,
            user="postgres" if superuser else "plantcare",
            password=self.postgres.password,
            dbname="plantcare",
            application_name="observer",
            connect_timeout=5,
            autocommit=True,
        )

    def environment(self, name: str) -> dict[str, str]:
        """Return what a process of the service sees; its name shows in the database's list of sessions."""
        given = application_environment(
            database_url=f"{self.owner_url}?application_name={name}",
            redis_url=f"redis://:{self.redis_password}@{HOST}:{self.redis_port}/0",
            secrets=Secrets("", "only-for-this-stage-" + "x" * 40),
            files=self.folder.files,
        )
        given.pop("PYTEST_VERSION", None)
        return given | {"DJANGO_SETTINGS_MODULE": "tests.faults.settings", "PYTHONPATH": str(PROJECT)}

    def run(self, *command: str) -> str:
        """Run a program of the service to its end and return what it said."""
        done = subprocess.run(
            command, cwd=PROJECT, env=self.environment("setup"), check=False, capture_output=True, text=True
        )
        assert done.returncode == 0, done.stderr[-3000:]
        return done.stdout

    def start(self, name: str) -> None:
        """Start one process of the service, or a server after its death."""
        if name == "postgres":
            self._start_postgres()
        elif name == "redis":
            self._start_redis()
        else:
            log = self.folder.logs / f"{name}.{time.monotonic_ns()}.log"
            self.children[name] = launch(
                Program(name, self._command(name), log, self.environment(name), PROJECT)
            )

    def _command(self, name: str) -> list[str]:
        if name == "web":
            options = [f"--bind={HOST}:{self.web_port}", "--workers=2", "--threads=4", "--timeout=60"]
            return [
                *(sys.executable, "-m", "gunicorn", "plantcare.wsgi:application", "--no-control-socket"),
                *options,
            ]
        if name == "worker":
            options = ["--pool=prefork", "--concurrency=2", "--without-gossip", "--without-mingle"]
            return [*CELERY, "worker", *options, "--loglevel=INFO"]
        return [*CELERY, "beat", "--loglevel=INFO", "--pidfile="]

    def _start_postgres(self) -> None:
        """Start until it is ready: sessions that outlived the postmaster hold its memory for a moment."""

        def up() -> bool:
            child = self.children.get("postgres")
            if child is None or not child.alive:
                program = self.postgres._launch(_Starter(), self.database_port)
                self.children["postgres"] = child = program
                time.sleep(0.2)
            return self.postgres._is_ready(child)

        wait_until(up, "PostgreSQL's return")

    def _start_redis(self) -> None:
        def up() -> bool:
            child = self.children.get("redis")
            if child is None or not child.alive:
                settings = self.redis._settings(self.redis_port, self.redis_password)
                self.children["redis"] = launch(
                    Program(
                        "redis",
                        [str(self.redis.program), "-"],
                        self.folder.logs / f"redis.{time.monotonic_ns()}.log",
                        clean_environment(),
                        self.redis.folder,
                        said=settings.encode(),
                    )
                )
                time.sleep(0.1)
            return answers(self.redis_port, self.redis_password)

        wait_until(up, "Redis's return")

    def revive(self) -> list[str]:
        """Start again whatever is dead, servers first; return what was."""
        dead = [name for name in ORDER if name not in self.children or not self.children[name].alive]
        for name in dead:
            self.start(name)
        return dead

    def ready(self) -> bool:
        """Return whether the site answers that it can serve."""
        line = http.client.HTTPConnection(HOST, self.web_port, timeout=5)
        try:
            line.request("GET", "/readyz")
            return line.getresponse().status == 200
        except (OSError, http.client.HTTPException):
            return False
        finally:
            line.close()

    def stop(self) -> None:
        """End everything this stage started, in the reverse order, by its own numbers."""
        for name in reversed(ORDER):
            child = self.children.get(name)
            if child is not None:
                with contextlib.suppress(ProcessLookupError, PermissionError):
                    os.killpg(child.process.pid, signal.SIGCONT)
                child.stop(self.supervisor.request)


ORDER = ("postgres", "redis", "web", "worker", "beat", "beat2")


class _Starter:
    """What a server's own launch asks of its supervisor, without watching over it."""

    def start(self, program: Program) -> Child:
        return launch(program)


@contextlib.contextmanager
def staged(*, points: int, copy_of: str = "") -> Iterator[tuple[Stage, dict[str, Any]]]:
    """Open the stage with a plant on it; ``copy_of`` names a migrated database whose tables are taken."""
    with contextlib.ExitStack() as tidying:
        supervisor = Supervisor()
        tidying.callback(supervisor.tidying.close)
        account = database_account()
        folder = DataFolder(temporary_folder(tidying, account))
        folder.make()
        programs = postgres_programs(tidying, account)
        secrets = Secrets.draw()
        database = Postgres(
            programs=programs,
            folder=folder.postgres,
            logs=folder.logs,
            password=secrets.database_password,
            account=account,
            kept=True,
        )
        address = database.open(supervisor)
        postgres_child = supervisor.children.pop()
        redis_port, redis_password = free_port(), secrets.secret_key[:24]
        stage = Stage(
            supervisor,
            folder,
            database,
            RedisServer(program=redis_program(), folder=folder.logs, logs=folder.logs),
            int(address.rsplit(":", 1)[1].split("/")[0]),
            redis_port,
            redis_password,
            children={"postgres": postgres_child},
        )
        tidying.callback(stage.stop)
        if copy_of:
            _copy_tables(programs.path("pg_dump"), programs.path("psql"), copy_of, stage.owner_url)
        else:
            stage.run(sys.executable, "manage.py", "migrate", "--no-input", "-v0")
        plant = json.loads(stage.run(sys.executable, "-m", "tests.faults.seeding", str(points)))
        stage.revive()
        wait_until(stage.ready, "the site's first answer")
        yield stage, plant


def _copy_tables(pg_dump: str, psql: str, source: str, target: str) -> None:
    """Copy a migrated, empty database: much sooner done than every migration once more."""
    environment = clean_environment()
    tables = subprocess.run(
        [pg_dump, "--no-owner", "--no-privileges", "--no-comments", "--no-statistics", f"--dbname={source}"],
        env=environment,
        check=True,
        capture_output=True,
    ).stdout
    # What the source's server notes of its columns for itself is no part of the tables.
    tables = re.sub(rb"(?m)^ALTER TABLE ONLY \S+ ALTER COLUMN \S+ SET \(.*\);$", b"", tables)
    read = subprocess.run(
        [psql, "--quiet", "--no-psqlrc", "--set=ON_ERROR_STOP=1", f"--dbname={target}"],
        input=tables,
        env=environment,
        check=False,
        capture_output=True,
    )
    assert read.returncode == 0, read.stderr[-2000:]
