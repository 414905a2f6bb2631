"""Clients that carry findings to their closed orders over the API, and keep a book of what was answered."""

from __future__ import annotations

import http.client
import itertools
import json
import random
import threading
import time
import uuid
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from plantcare.standalone.ports import HOST

SPEAK: dict[str, Any] = {"background_db": 20.0, "distance_m": 0.5, "pressure_gauge_pa": 600_000.0}
LEAK = {**SPEAK, "kind": "pressure_leak", "medium": "compressed_air", "level_db": 55.0, "severity": 4}
SMALL = LEAK | {"severity": 1}
QUIET = {**SPEAK, "kind": "", "level_db": 20.0}
ANSWER_LIMIT_S = 20.0
AT_HAND = 5
FOUND_DAYS_AGO = 55.0
"""So long ago that the whole ladder of reminders is due at once where no order is opened."""


@dataclass(slots=True)
class Act:
    """One thing a client wants done once, with what it was told."""

    what: str
    method: str
    path: str
    body: dict[str, Any]
    role: str
    headers: dict[str, str] = field(default_factory=dict)
    key: str = ""
    tries: int = 0
    unknown: int = 0
    status: int = 0
    answer: dict[str, Any] = field(default_factory=dict)

    @property
    def acknowledged(self) -> bool:
        """Return whether the service said that it is done."""
        return 200 <= self.status < 300


class Book:
    """What all clients did, seen and were told; the one side of the count."""

    def __init__(self) -> None:
        self.acts: list[Act] = []
        self.statuses: Counter[str] = Counter()
        self.oddities: list[str] = []
        self.last_answer_s = time.monotonic()
        self.lock = threading.Lock()

    def note(self, status: str) -> None:
        """Count one answer."""
        with self.lock:
            self.statuses[status] += 1

    def odd(self, what: str) -> None:
        """Note an answer that there must never be."""
        with self.lock:
            self.oddities.append(what)

    def keep(self, act: Act) -> None:
        """Enter an act before it is sent for the first time."""
        with self.lock:
            self.acts.append(act)


class Walk(threading.Thread):
    """One client with some findings at hand; it ends when it is told to, never in the middle of an act."""

    def __init__(
        self,
        number: int,
        port: int,
        plant: dict[str, Any],
        points: itertools.count[int],
        book: Book,
        seed: int,
    ) -> None:
        super().__init__(daemon=True)
        self.port, self.plant, self.points, self.book = port, plant, points, book
        self.chance = random.Random(f"{seed}:{number}")
        self.number = number
        self.finish = threading.Event()
        self.stories: list[Any] = []

    def run(self) -> None:
        """Go on with one story after another; begin new ones while time is left."""
        while not self.finish.is_set():
            while len(self.stories) < AT_HAND:
                self.stories.append(self._story())
            story = self.chance.choice(self.stories)
            try:
                next(story)
            except StopIteration:
                self.stories.remove(story)
            except StoryOver:
                self.stories.remove(story)
            except Exception as exc:  # noqa: BLE001 - the count has to know
                self.book.odd(f"client: {type(exc).__name__}: {exc}")
                self.stories.remove(story)

    def _story(self) -> Any:
        """Find a leak, wait for the job to order its repair, repair it, prove it; or give it up midway."""
        number = next(self.points)
        if number >= len(self.plant["points"]):
            self.finish.set()
            return
        point = self.plant["points"][number]
        if self.chance.random() < 0.3:
            # Too small for an order: it is there to be reminded of, step by step.
            yield from self._read(point, SMALL, datetime.now(UTC) - timedelta(days=FOUND_DAYS_AGO))
            return
        found = yield from self._read(point, LEAK, datetime.now(UTC) - timedelta(days=FOUND_DAYS_AGO))
        finding = found["finding"]["id"]
        order = yield from self._ordered(finding)
        if self.chance.random() < 0.1:
            yield from self._move(order, "manager", {"move": "cancel", "cancel_reason": "duplicate"})
            return
        if self.chance.random() < 0.3:
            yield from self._move(order, "manager", {"move": "wait", "wait_reason": "parts"})
            yield from self._move(order, "manager", {"move": "resume"})
        if self.chance.random() < 0.2:
            yield from self._move(order, "technician", {"move": "start", "isolation_confirmed": True})
            nothing = {
                "move": "report_repair",
                "outcome": "not_found",
                "reason": "Nothing to be found there.",
            }
            yield from self._move(order, "technician", nothing)
        yield from self._move(order, "technician", {"move": "start", "isolation_confirmed": True})
        repaired_at = datetime.now(UTC)
        report = {
            "move": "report_repair",
            "outcome": "fixed",
            "action_taken": "New seal fitted.",
            "isolation_confirmed": True,
            "repaired_at": repaired_at.isoformat(),
        }
        yield from self._move(order, "technician", report)
        taken = yield from self._read(point, QUIET, datetime.now(UTC))
        if self.chance.random() < 0.4:
            proof = {"finding_id": finding, "reading_id": taken["reading"]["id"]}
            yield from self._do(Act("verify", "POST", "/verifications", proof, "inspector"))

    def _read(self, point: str, heard: dict[str, Any], at: datetime) -> Any:
        client_id = str(uuid.UUID(int=self.chance.getrandbits(128), version=4))
        body = {
            **heard,
            "survey_id": self.plant["survey"],
            "client_id": client_id,
            "point_id": point,
            "taken_at": at.isoformat(),
            "instrument_id": self.plant["instrument"],
        }
        act = Act("read", "POST", "/readings", body, "inspector", key=client_id)
        yield from self._do(act)
        return act.answer

    def _ordered(self, finding: str) -> Any:
        while True:
            status, body, _ = self._ask("GET", f"/work-orders?finding_id={finding}", "manager")
            if status == 200 and body["results"]:
                return {"id": body["results"][0]["id"], "version": body["results"][0]["version"]}
            time.sleep(0.05)
            yield

    def _move(self, order: dict[str, Any], role: str, body: dict[str, Any]) -> Any:
        """Make a move; where somebody else (a job) was first, look again and make it from there."""
        while True:
            act = Act(f"move:{body['move']}", "POST", f"/work-orders/{order['id']}/moves", body, role)
            act.headers["If-Match"] = f'"v{order["version"]}"'
            yield from self._do(act)
            if act.acknowledged:
                order["version"] = act.answer["version"]
                return
            if act.status != 412:
                self.book.odd(f"{act.what}: {act.status} {act.answer.get('code')} {act.answer.get('detail')}")
                raise StoryOver
            status, seen, _ = self._ask("GET", f"/work-orders/{order['id']}", "manager")
            if status == 200:
                order["version"] = seen["version"]
            yield

    def _do(self, act: Act) -> Any:
        """Send an act until it is known what became of it, always with the same key."""
        act.key = act.key or str(uuid.UUID(int=self.chance.getrandbits(128), version=4))
        if act.what != "read":
            act.headers["Idempotency-Key"] = act.key
        self.book.keep(act)
        while True:
            act.tries += 1
            status, body, _ = self._ask(act.method, act.path, act.role, act.body, act.headers)
            running = status == 409 and body.get("code") == "idempotency_key_running"
            if status == 0 or status >= 500 or running or status == 429:
                act.unknown += 1
                time.sleep(self.chance.uniform(0.05, 0.3))
                yield
                continue
            act.status, act.answer = status, body
            break
        if act.acknowledged:
            self.book.last_answer_s = time.monotonic()
            if self.chance.random() < 0.2:
                self._again(act)
        yield

    def _again(self, act: Act) -> None:
        """Send what is done once more: the answer has to name the same thing."""
        status, body, _ = self._ask(act.method, act.path, act.role, act.body, act.headers)
        if not 200 <= status < 300:
            return
        same = body.get("reading", body).get("id") == act.answer.get("reading", act.answer).get("id")
        if not same:
            self.book.odd(f"{act.what} sent again was answered with another thing")

    def _ask(
        self,
        method: str,
        path: str,
        role: str,
        body: dict[str, Any] | None = None,
        headers: dict[str, str] | None = None,
    ) -> tuple[int, dict[str, Any], float]:
        """Ask once; 0 stands for no answer at all."""
        line = http.client.HTTPConnection(HOST, self.port, timeout=ANSWER_LIMIT_S)
        sent = {"Authorization": f"Bearer {self.plant['keys'][role]}", "Content-Type": "application/json"}
        begun_s = time.monotonic()
        try:
            text = None if body is None else json.dumps(body)
            line.request(method, f"/api/v1{path}", text, sent | (headers or {}))
            answer = line.getresponse()
            raw, status, kind = answer.read(), answer.status, answer.headers.get("Content-Type", "")
        except (OSError, http.client.HTTPException) as exc:
            self.book.note(f"no answer: {type(exc).__name__}")
            return 0, {}, time.monotonic() - begun_s
        finally:
            line.close()
        self.book.note(str(status))
        if status >= 500 and (status != 503 or "problem+json" not in kind):
            self.book.odd(f"{status} {kind}: {method} {path}: {raw[:300]!r}")
        try:
            return status, json.loads(raw), time.monotonic() - begun_s
        except ValueError:
            return status, {}, time.monotonic() - begun_s


class StoryOver(Exception):
    """The story can't go on; why stands in the book."""
