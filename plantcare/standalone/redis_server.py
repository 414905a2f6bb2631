"""A Redis-protocol server as a child: nothing is kept, since the queue is only a hint to the workers.

Every debt of work stands in PostgreSQL, so an empty queue after a start loses nothing.
"""

from __future__ import annotations

import secrets
import signal
import socket
from dataclasses import dataclass
from pathlib import Path

from plantcare.standalone.environment import clean_environment
from plantcare.standalone.ports import HOST, free_port
from plantcare.standalone.processes import Farewell, Program, ReportedError
from plantcare.standalone.supervisor import Supervisor

_PORT_TRIES = 3
_START_LIMIT_S = 20.0
_ANSWER_LIMIT_S = 1.0
_FAREWELL = Farewell(((signal.SIGTERM, 5.0),), signal.SIGTERM)


@dataclass(frozen=True)
class RedisServer:
    """The program, where it may write, and its log's folder."""

    program: Path
    folder: Path
    logs: Path

    def open(self, supervisor: Supervisor) -> str:
        """Start the server on a free port and return its REDIS_URL."""
        password = secrets.token_urlsafe(24)
        for tries_left in reversed(range(_PORT_TRIES)):
            port = free_port()
            child = supervisor.start(
                Program(
                    "Redis server",
                    [str(self.program), "-"],
                    log=self.logs / "redis.log",
                    environment=clean_environment(),
                    folder=self.folder,
                    farewell=_FAREWELL,
                    said=self._settings(port, password).encode(),
                )
            )
            try:
                supervisor.wait_until(
                    lambda port=port: answers(port, password),  # type: ignore[misc]
                    what="the Redis server's start",
                    limit_s=_START_LIMIT_S,
                )
            except ReportedError:
                if tries_left == 0 or "bind:" not in child.log.read_text(encoding="utf-8", errors="replace"):
                    raise
                supervisor.forget(child)
            else:
                return f"redis://:{password}@{HOST}:{port}/0"
        raise AssertionError  # the last try returns or raises

    def _settings(self, port: int, password: str) -> str:
        """Write the configuration; it goes through standard input, so the password is in no process list."""
        settings = {
            "bind": HOST,
            "port": port,
            "requirepass": password,
            "dir": f'"{self.folder}"',
            "save": '""',
            "appendonly": "no",
            "maxmemory": "256mb",
            "maxmemory-policy": "noeviction",
            "daemonize": "no",
        }
        return "".join(f"{name} {value}\n" for name, value in settings.items())


def answers(port: int, password: str) -> bool:
    """Return whether a server on the port accepts the password and answers a ping."""
    try:
        with socket.create_connection((HOST, port), timeout=_ANSWER_LIMIT_S) as line:
            line.sendall(f"AUTH {password}\r\nPING\r\n".encode())
            heard = b""
            while heard.count(b"\r\n") < 2 and (more := line.recv(256)):
                heard += more
    except OSError:
        return False
    return heard == b"+OK\r\n+PONG\r\n"
