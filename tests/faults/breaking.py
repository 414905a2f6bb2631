"""Kill and pause processes of a stage at random moments, preferably while they hold a transaction open."""

from __future__ import annotations

import contextlib
import os
import random
import signal
import socket
import statistics
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import psycopg

from plantcare.standalone.ports import HOST
from plantcare.standalone.redis_server import answers
from tests.faults.stage import Stage, wait_until
from tests.faults.walking import Book

WEIGHTS = {
    "kill worker child": 24,
    "kill web child": 20,
    "kill worker": 10,
    "kill beat": 6,
    "kill web": 4,
    "kill session": 10,
    "kill postgres": 4,
    "kill redis": 6,
    "empty redis": 3,
    "pause worker child": 4,
    "pause beat": 3,
    "pause redis": 3,
    "pause postgres": 2,
    "pause web child": 3,
}
AIM_LIMIT_S = 0.6
LONGEST_PAUSE_S = 6.0

_INSIDE = """
SELECT pid, client_port FROM pg_stat_activity
WHERE application_name = %s AND (xact_start IS NOT NULL) AND pid <> pg_backend_pid()
"""


class Breaker:
    """What was broken, where it landed, and how long until work went on."""

    def __init__(self, stage: Stage, book: Book, seed: int) -> None:
        self.stage, self.book = stage, book
        self.chance = random.Random(f"{seed}:breaker")
        self.done: Counter[str] = Counter()
        self.inside: Counter[str] = Counter()
        self.recoveries: dict[str, list[float]] = defaultdict(list)
        self.observer: psycopg.Connection[Any] | None = None

    def break_for(self, seconds: float, gap_s: float) -> None:
        """Break one thing after another until the time is over, then let everything run again."""
        end_s = time.monotonic() + seconds
        while time.monotonic() < end_s:
            self.break_one(self.chance.choices(list(WEIGHTS), list(WEIGHTS.values()))[0])
            self.stage.revive()
            time.sleep(self.chance.uniform(0.2, 2 * gap_s))
        self.stage.revive()

    def break_one(self, what: str) -> None:
        """Do one thing of the list, and note how long nobody got an answer afterwards."""
        verb, _, victim = what.partition(" ")
        begun_s = time.monotonic()
        try:
            getattr(self, f"_{verb}")(victim)
        except ProcessLookupError:
            return  # it ended by itself between the aim and the shot: nothing was broken
        self.done[what] += 1
        self.stage.revive()
        with contextlib.suppress(TimeoutError):
            wait_until(lambda: self.book.last_answer_s > begun_s, "an answer", 30)
            self.recoveries[what].append(self.book.last_answer_s - begun_s)

    def _kill(self, victim: str) -> None:
        if victim == "session":
            self._signal_session(signal.SIGKILL)
            return
        name = self._name(victim)
        number = self._aimed(victim, name)
        if number is None:
            return
        if victim.endswith("child"):
            os.kill(number, signal.SIGKILL)
        else:
            os.killpg(number, signal.SIGKILL)
            self.stage.children[name].process.wait()

    def _pause(self, victim: str) -> None:
        number = self._aimed(victim, self._name(victim))
        if number is None:
            return
        os.kill(number, signal.SIGSTOP)
        time.sleep(self.chance.uniform(0.5, LONGEST_PAUSE_S))
        with contextlib.suppress(ProcessLookupError):
            os.kill(number, signal.SIGCONT)

    def _empty(self, _victim: str) -> None:
        with contextlib.suppress(OSError), socket.create_connection((HOST, self.stage.redis_port), 2) as line:
            line.sendall(f"AUTH {self.stage.redis_password}\r\nFLUSHALL\r\n".encode())
            line.recv(64)

    def _name(self, victim: str) -> str:
        return self.chance.choice(["beat", "beat2"]) if victim == "beat" else victim.removesuffix(" child")

    def _aimed(self, victim: str, name: str) -> int | None:
        """Return the process to hit: one that holds a transaction where one can be found soon."""
        child = self.stage.children[name]
        if name not in ("web", "worker"):
            return child.process.pid
        family = children_of(child.process.pid)
        end_s = time.monotonic() + AIM_LIMIT_S
        while time.monotonic() < end_s:
            held = {port for _, port in self._sessions(name)}
            hit = next((one for one in family if held & ports_of(one)), None)
            if hit is not None:
                self.inside[victim] += 1
                return hit if victim.endswith("child") else child.process.pid
        if not victim.endswith("child"):
            return child.process.pid
        return self.chance.choice(family) if family else None

    def _signal_session(self, wanted: signal.Signals) -> None:
        """Kill one session's server process; PostgreSQL then restarts itself and recovers."""
        found = self._sessions("worker") + self._sessions("web")
        if found:
            self.inside["session"] += 1
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.chance.choice(found)[0], wanted)

    def _sessions(self, name: str) -> list[tuple[int, int]]:
        try:
            if self.observer is None:
                self.observer = self.stage.connect(superuser=True)
            return list(self.observer.execute(_INSIDE, [name]).fetchall())
        except psycopg.Error:
            self.observer = None
            return []

    def figures(self) -> dict[str, Any]:
        """Return the counts, and the seconds until the next acknowledged act."""
        return {
            "broken": dict(self.done),
            "kills": sum(count for what, count in self.done.items() if what.startswith("kill")),
            "inside_a_transaction": dict(self.inside),
            "seconds_to_the_next_acknowledged_act": {
                what: {"median": round(statistics.median(all_), 2), "most": round(max(all_), 2)}
                for what, all_ in sorted(self.recoveries.items())
            },
        }


def drain(stage: Stage, is_drained: Callable[[], bool], limit_s: float) -> float:
    """Let everything run until no work is left; return how long it took."""
    begun_s = time.monotonic()
    stage.revive()
    wait_until(lambda: answers(stage.redis_port, stage.redis_password), "Redis")

    def quiet() -> bool:
        stage.revive()
        try:
            return is_drained()
        except psycopg.Error:
            return False

    wait_until(quiet, "the end of all work that is due", limit_s)
    return time.monotonic() - begun_s


def children_of(number: int) -> list[int]:
    """Return the numbers of a process's direct children (Linux)."""
    found = []
    for task in Path(f"/proc/{number}/task").glob("*/children"):
        with contextlib.suppress(OSError):
            found += [int(word) for word in task.read_text().split()]
    return found


def ports_of(number: int) -> set[int]:
    """Return the local TCP ports of a process's open connections (Linux)."""
    with contextlib.suppress(OSError):
        sockets = {
            link.readlink().name.removeprefix("socket:[").rstrip("]")
            for link in _links(Path(f"/proc/{number}/fd"))
        }
        lines = Path(f"/proc/{number}/net/tcp").read_text().splitlines()[1:]
        return {int(words[1].split(":")[1], 16) for words in map(str.split, lines) if words[9] in sockets}
    return set()


def _links(folder: Path) -> Iterable[Path]:
    for path in folder.iterdir():
        with contextlib.suppress(OSError):
            if str(path.readlink()).startswith("socket:["):
                yield path
