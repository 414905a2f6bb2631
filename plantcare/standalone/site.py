"""The running service: tables brought up to date, then web, worker and beat until the user stops them."""

from __future__ import annotations

import http.client
import json
import os
import signal
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from plantcare.standalone.datafolder import PROJECT, DataFolder, write_private
from plantcare.standalone.ports import HOST
from plantcare.standalone.processes import POLITE, Farewell, Program
from plantcare.standalone.supervisor import Supervisor, say

WEB_PROCESSES = 2
WEB_THREADS = 4
WORKER_PROCESSES = 2
_ANSWER_LIMIT_S = 90.0
_WEB_FAREWELL = Farewell(((signal.SIGTERM, 8.0), (signal.SIGQUIT, 2.0)), signal.SIGQUIT)
# Celery's SIGTERM lets running tasks finish, SIGQUIT gives them back. Orphaned, it would wait for its broker
# for ever; killed, it takes its own children along, and every task may be run again.
_WORKER_FAREWELL = Farewell(((signal.SIGTERM, 8.0), (signal.SIGQUIT, 4.0)), signal.SIGKILL)


@dataclass(frozen=True)
class Site:
    """One run of the service on one data folder."""

    supervisor: Supervisor
    folder: DataFolder
    environment: Mapping[str, str]
    port: int

    @property
    def address(self) -> str:
        """Return where a browser finds the service."""
        return f"http://{HOST}:{self.port}/"

    def manage(self, *arguments: str, aloud: bool = False) -> Path:
        """Run one of manage.py's commands to its end and return its log; `aloud` shows how far it is."""
        log = self.folder.logs / f"{arguments[0]}.log"
        self.supervisor.run(
            Program(f"manage.py {arguments[0]}", manage_command(*arguments), log, self.environment, PROJECT),
            aloud=aloud,
        )
        return log

    def open(self) -> None:
        """Start worker, beat and web, and wait until the site answers."""
        celery = [sys.executable, "-m", "celery", "--app", "plantcare.celery:app"]
        self._start("worker", [*celery, "worker", *_worker_options()], _WORKER_FAREWELL)
        self._start("beat", [*celery, "beat", *_beat_options()], POLITE)
        self._start("web", [sys.executable, "-m", "gunicorn", *self._web_options()], _WEB_FAREWELL)
        self.supervisor.wait_until(self._answers, what="The site's first answer", limit_s=_ANSWER_LIMIT_S)
        self._note_running()

    def _start(self, name: str, command: list[str], farewell: Farewell) -> None:
        log = self.folder.logs / f"{name}.log"
        self.supervisor.start(
            Program(name, command, log=log, environment=self.environment, folder=PROJECT, farewell=farewell)
        )

    def _web_options(self) -> list[str]:
        return [
            "plantcare.wsgi:application",
            f"--bind={HOST}:{self.port}",
            f"--workers={WEB_PROCESSES}",
            f"--threads={WEB_THREADS}",
            "--timeout=60",
            "--graceful-timeout=5",
            "--no-control-socket",
        ]

    def _answers(self) -> bool:
        """Return whether the site gives any answer but a server error."""
        line = http.client.HTTPConnection(HOST, self.port, timeout=5)
        try:
            line.request("GET", "/readyz")
            return line.getresponse().status < 500
        except (OSError, http.client.HTTPException):
            return False
        finally:
            line.close()

    def _note_running(self) -> None:
        note = {"process": os.getpid(), "address": self.address, "environment": dict(self.environment)}
        write_private(self.folder.running, json.dumps(note, indent=1))
        self.supervisor.tidying.callback(self.folder.running.unlink, missing_ok=True)

    def announce(self, *lines: str) -> None:
        """Tell the user where the service is and how to end it."""
        say()
        say(f"Plantcare answers at {self.address}")
        for line in lines:
            say(line)
        say(f"Data and logs: {self.folder.root}. Stop with Ctrl-C.")


def manage_command(*arguments: str) -> list[str]:
    """Return the command line that runs manage.py with these arguments."""
    return [sys.executable, str(PROJECT / "manage.py"), *arguments]


def _worker_options() -> list[str]:
    return [
        "--pool=prefork",
        f"--concurrency={WORKER_PROCESSES}",
        "--hostname=plantcare@%h",
        "--without-gossip",
        "--without-mingle",
        "--loglevel=INFO",
    ]


def _beat_options() -> list[str]:
    return ["--loglevel=INFO", "--pidfile="]
