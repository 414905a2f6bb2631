"""Walk, break, let come to rest, count: one whole run, told as figures."""

from __future__ import annotations

import itertools
import time
from typing import Any

from tests.faults.breaking import Breaker, drain
from tests.faults.counting import faults, undone
from tests.faults.stage import Stage, wait_until
from tests.faults.walking import Book, Walk

DRAIN_LIMIT_S = 300.0


def run(
    stage: Stage, plant: dict[str, Any], *, seconds: float, seed: int, clients: int = 3, gap_s: float = 0.8
) -> tuple[dict[str, Any], Book]:
    """Break a stage under work for so long; return the figures, with every fault in words, and the book."""
    book, points = Book(), itertools.count()
    walks = [Walk(n, stage.web_port, plant, points, book, seed) for n in range(clients)]
    for walk in walks:
        walk.start()
    breaker = Breaker(stage, book, seed)
    wait_until(lambda: any(act.what != "read" and act.acknowledged for act in book.acts), "the first move")
    begun_s = time.monotonic()
    breaker.break_for(seconds, gap_s)
    broken_s = time.monotonic() - begun_s
    wait_until(stage.ready, "the site's answer")
    wait_until(lambda: _has_everything(book), "one of everything that is counted")
    for walk in walks:
        walk.finish.set()
    for walk in walks:
        walk.join(120)
    with stage.connect() as db:
        rest_s = drain(stage, lambda: not any(undone(db).values()), DRAIN_LIMIT_S)
    return _figures(stage, breaker, book, seed, broken_s, rest_s), book


def _has_everything(book: Book) -> bool:
    """Return whether something was proven and something is only reminded of: else a count proves nothing."""
    readings = [act.body for act in list(book.acts) if act.what == "read" and act.acknowledged]
    proven = any(not body["kind"] for body in readings)
    return proven and any(body.get("severity") == 1 for body in readings)


def _figures(
    stage: Stage, breaker: Breaker, book: Book, seed: int, broken_s: float, rest_s: float
) -> dict[str, Any]:
    with stage.connect() as db:
        db.execute("SET default_transaction_isolation = 'repeatable read'")
        # A last minute that has just begun is given the time to be done.
        wait_until(
            lambda: not any("promised" in what for what in faults(db, [])), "the promised periods", 120
        )
        wrong = [*book.oddities, *faults(db, book.acts)]
        [[orders, closed, entries]] = db.execute(
            "SELECT count(*), count(*) FILTER (WHERE state = 'closed'),"
            " (SELECT count(*) FROM findings_entry) FROM workorders_workorder"
        ).fetchall()
        outcomes = dict(
            db.execute("SELECT outcome || ' ' || error, count(*) FROM jobs_jobrun GROUP BY 1").fetchall()
        )
        stumbles = db.execute("SELECT job, reason, failures FROM jobs_stumble").fetchall()
    acknowledged = [act for act in book.acts if act.acknowledged]
    return {
        "seed": seed,
        "seconds_of_breaking": round(broken_s, 1),
        "seconds_until_all_was_done": round(rest_s, 1),
        "acts_acknowledged": len(acknowledged),
        "acts_sent": len(book.acts),
        "tries": sum(act.tries for act in book.acts),
        "unknown_outcomes": sum(act.unknown for act in book.acts),
        "answers": dict(book.statuses),
        "orders": orders,
        "orders_closed": closed,
        "logbook_entries": entries,
        "job_runs": outcomes,
        "stumbles": stumbles,
        **breaker.figures(),
        "faults": wrong,
    }
