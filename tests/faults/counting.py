"""Count the clients' book against the database: what is lost, doubled, forbidden, unexplained or left undone.

Everything is read by plain SQL; only the table of moves and the hash of the logbook come from the service.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any, Final

import psycopg
from psycopg.rows import dict_row

from findings.logbook.rules import GENESIS, chained
from tests.faults.quick import CATCH_UP, EVERY_MINUTE
from tests.faults.walking import Act
from workorders.orders.rules import MOVES, OrderState

ACT_OF_MOVE: Final = {
    "wait": "work_order.waiting",
    "resume": "work_order.resumed",
    "start": "work_order.started",
    "report_repair": "work_order.repair_reported",
    "cancel": "work_order.cancelled",
}
MOVE_OF_ACT: Final = {act: move for move, act in ACT_OF_MOVE.items()} | {
    "work_order.closed": "close",
    "work_order.reopened": "reopen",
    "work_order.released": "release",
    "work_order.scheduled": "schedule",
}
ALLOWED: Final = {(row.name.value, row.source.value, row.target.value) for row in MOVES}
STEPS_DUE: Final = 4
"""All steps of the ladder: the small leaks of the walk are so old that every one of them is reached."""

Database = psycopg.Connection[Any]


def faults(db: Database, acts: list[Act]) -> list[str]:
    """Return everything that is wrong, in words; nothing is right only if this is empty."""
    checks: list[Callable[[Database, list[Act]], Iterator[str]]] = [
        readings_are_there_once,
        acknowledged_moves_are_in_the_logbook_once,
        keys_had_one_effect,
        orders_are_one_for_a_finding,
        histories_are_allowed,
        states_have_their_entries,
        verdicts_are_there_once,
        reminders_were_sent_once,
        visits_are_asked_for_once,
        the_chain_is_whole,
        numbers_have_no_gap,
        periods_were_done_once,
    ]
    return [f"{check.__name__}: {what}" for check in checks for what in check(db, acts)]


def undone(db: Database) -> dict[str, int]:
    """Return how much work the jobs still have before them, by what it is."""
    [row] = _rows(
        db,
        """
        SELECT
          (SELECT count(*) FROM findings_finding f
           WHERE f.status = 'open' AND f.severity >= 4 AND NOT EXISTS (
             SELECT FROM workorders_orderfinding t JOIN workorders_workorder o ON o.id = t.order_id
             WHERE t.finding_id = f.id AND (t.ended_at IS NULL OR o.state = 'cancelled'))) AS orders,
          (SELECT count(*) FROM findings_finding f WHERE f.status = 'repaired' AND EXISTS (
             SELECT FROM findings_reading r WHERE r.point_id = f.point_id AND r.kind = ''
             AND r.taken_at > f.repaired_at)) AS verdicts,
          (SELECT count(*) FROM findings_finding f WHERE f.severity < 4 AND %s > (
             SELECT count(*) FROM workorders_escalation e WHERE e.finding_id = f.id)) AS reminders
        """,
        STEPS_DUE,
    )
    return row


def _rows(db: Database, sql: str, *given: Any) -> list[dict[str, Any]]:
    with db.cursor(row_factory=dict_row) as cursor:
        return cursor.execute(sql, given).fetchall()


def readings_are_there_once(db: Database, acts: list[Act]) -> Iterator[str]:
    stored = {
        row["client_id"]: row
        for row in _rows(db, "SELECT client_id, min(id::text) AS id, count(*) AS times, "
                             "min(taken_at) AS at FROM findings_reading GROUP BY client_id")
    }  # fmt: skip
    sent = {act.key: act for act in acts if act.what == "read"}
    for key, act in sent.items():
        if act.acknowledged and key not in stored:
            yield f"lost: reading {key} was acknowledged"
        elif act.acknowledged and stored[key]["id"] != act.answer["reading"]["id"]:
            yield f"doubled: reading {key} has another id than was answered"
    for key, row in stored.items():
        if row["times"] > 1:
            yield f"doubled: reading {key} is there {row['times']} times"
        if key not in sent:
            yield f"unexplained: reading {key} was never sent"
    findings = {row["id"] for row in _rows(db, "SELECT id::text AS id FROM findings_finding")}
    for act in sent.values():
        if act.acknowledged and act.answer["finding"] and act.answer["finding"]["id"] not in findings:
            yield f"lost: finding {act.answer['finding']['id']} was acknowledged"


def acknowledged_moves_are_in_the_logbook_once(db: Database, acts: list[Act]) -> Iterator[str]:
    entries = Counter(
        (row["subject"], row["act"], row["subject_version"])
        for row in _rows(db, "SELECT subject_id::text AS subject, act, subject_version FROM findings_entry "
                             "WHERE subject_kind = 'work_order'")
    )  # fmt: skip
    for act in acts:
        if act.what.startswith("move:") and act.acknowledged:
            wanted = (act.answer["id"], ACT_OF_MOVE[act.body["move"]], act.answer["version"])
            if entries[wanted] != 1:
                yield f"{act.body['move']} on {act.answer['id']} has {entries[wanted]} entries, not one"


def keys_had_one_effect(db: Database, acts: list[Act]) -> Iterator[str]:
    """Compare, order by order and move by move, the keys that may have had an effect with the effects.

    What follows from another act (a verdict closes its order) has no key of its own.
    """
    effects = Counter(
        (row["subject"], row["act"])
        for row in _rows(db, "SELECT subject_id::text AS subject, act FROM findings_entry "
                             "WHERE subject_kind = 'work_order' AND key_id IS NOT NULL")
    )  # fmt: skip
    sure: Counter[tuple[str, str]] = Counter()
    perhaps: Counter[tuple[str, str]] = Counter()
    for act in acts:
        if act.what.startswith("move:"):
            place = (act.path.split("/")[2], ACT_OF_MOVE[act.body["move"]])
            sure[place] += act.acknowledged
            perhaps[place] += act.acknowledged or act.status == 0
    asked = set(ACT_OF_MOVE.values())
    for place in {place for place in effects if place[1] in asked} | set(sure):
        if not sure[place] <= effects[place] <= perhaps[place]:
            keys = f"{sure[place]} to {perhaps[place]} keys"
            yield f"{place[1]} on {place[0]}: {effects[place]} effects of {keys}"
    kept = _rows(db, "SELECT key, count(*) AS times FROM api_idempotencykey GROUP BY key HAVING count(*) > 1")
    yield from (f"doubled: key {row['key']} is kept {row['times']} times" for row in kept)


def orders_are_one_for_a_finding(db: Database, _acts: list[Act]) -> Iterator[str]:
    for row in _rows(
        db,
        """
        SELECT f.id, f.reopened_count, count(t.id) AS orders,
               count(t.id) FILTER (WHERE t.ended_at IS NULL) AS open
        FROM findings_finding f LEFT JOIN workorders_orderfinding t ON t.finding_id = f.id
        GROUP BY f.id HAVING count(t.id) <> (f.severity >= 4)::int
            OR count(t.id) FILTER (WHERE t.ended_at IS NULL) > 1
        """,
    ):
        yield f"finding {row['id']} has {row['orders']} orders, {row['open']} of them open"
    for row in _rows(
        db,
        "SELECT o.id FROM workorders_workorder o "
        "WHERE NOT EXISTS (SELECT FROM workorders_orderfinding t WHERE t.order_id = o.id)",
    ):
        yield f"order {row['id']} is for nothing"


def _histories(db: Database) -> dict[str, list[dict[str, Any]]]:
    found: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in _rows(
        db,
        "SELECT subject_id::text AS subject, act, subject_version, detail FROM findings_entry "
        "WHERE subject_kind = 'work_order' ORDER BY sequence",
    ):
        found[row["subject"]].append(row)
    return found


def histories_are_allowed(db: Database, _acts: list[Act]) -> Iterator[str]:
    histories = _histories(db)
    for order in _rows(db, "SELECT id::text AS id, state, version FROM workorders_workorder"):
        rows = histories.get(order["id"], [])
        if not rows or rows[0]["act"] != "work_order.opened":
            yield f"order {order['id']} was never opened by the logbook"
            continue
        state = OrderState.READY.value
        for row in rows[1:]:
            move = MOVE_OF_ACT.get(row["act"])
            if move is None:
                continue
            step = (move, row["detail"]["from"], row["detail"]["to"])
            if step not in ALLOWED or step[1] != state:
                yield f"order {order['id']}: {step} from {state} is in no table"
            state = step[2]
        if state != order["state"]:
            yield f"order {order['id']} is {order['state']}, its history says {state}"


def states_have_their_entries(db: Database, _acts: list[Act]) -> Iterator[str]:
    """Every version of an order was written by one act with one entry."""
    histories = _histories(db)
    for order in _rows(db, "SELECT id::text AS id, version FROM workorders_workorder"):
        versions = [row["subject_version"] for row in histories.get(order["id"], [])]
        if versions != list(range(1, order["version"] + 1)):
            yield f"order {order['id']} is at version {order['version']}, its entries at {versions}"
    for row in _rows(
        db,
        """
        SELECT f.id, f.status, f.repaired_at IS NOT NULL AS repaired,
          count(e.id) FILTER (WHERE e.act = 'finding.repaired') AS r,
          count(e.id) FILTER (WHERE e.act = 'finding.closed') AS c
        FROM findings_finding f LEFT JOIN findings_entry e ON e.subject_id = f.id
        WHERE f.reopened_count = 0 GROUP BY f.id
        """,
    ):
        if row["r"] != int(row["repaired"]) or row["c"] != int(row["status"] == "closed"):
            yield f"finding {row['id']} is {row['status']} with {row['r']} repairs and {row['c']} closings"


def verdicts_are_there_once(db: Database, acts: list[Act]) -> Iterator[str]:
    stored = Counter(
        (row["finding"], row["reading"])
        for row in _rows(db, "SELECT finding_id::text AS finding, reading_id::text AS reading "
                             "FROM workorders_verification")
    )  # fmt: skip
    yield from (f"doubled: verdict on {pair}" for pair, times in stored.items() if times > 1)
    for act in acts:
        if act.what == "verify" and act.acknowledged:
            pair = (act.answer["finding_id"], act.answer["reading_id"])
            if stored[pair] != 1:
                yield f"lost: the verdict on {pair} was acknowledged"
    for row in _rows(
        db,
        "SELECT v.id FROM workorders_verification v WHERE 1 <> (SELECT count(*) FROM findings_entry e "
        "WHERE e.subject_id = v.id AND e.act LIKE 'verification.%%')",
    ):
        yield f"verdict {row['id']} has not one entry"


def reminders_were_sent_once(db: Database, _acts: list[Act]) -> Iterator[str]:
    for row in _rows(
        db,
        """
        SELECT e.id, (SELECT count(*) FROM findings_entry l WHERE l.act = 'finding.escalated'
                      AND l.detail ->> 'escalation_id' = e.id::text) AS entries,
               count(*) OVER (PARTITION BY e.finding_id, e.episode, e.step) AS times
        FROM workorders_escalation e
        """,
    ):
        if (row["entries"], row["times"]) != (1, 1):
            yield f"reminder {row['id']} is there {row['times']} times with {row['entries']} entries"
    for row in _rows(
        db,
        "SELECT f.id, (SELECT count(*) FROM workorders_escalation e WHERE e.finding_id = f.id) AS told "
        "FROM findings_finding f WHERE f.severity < 4",
    ):
        if row["told"] != STEPS_DUE:
            yield f"finding {row['id']} was reminded of {row['told']} times"
    for row in _rows(
        db,
        "SELECT l.id FROM findings_entry l WHERE l.act = 'finding.escalated' AND NOT EXISTS ("
        "SELECT FROM workorders_escalation e WHERE e.id::text = l.detail ->> 'escalation_id')",
    ):
        yield f"entry {row['id']} tells of a reminder that is not there"


def visits_are_asked_for_once(db: Database, _acts: list[Act]) -> Iterator[str]:
    for row in _rows(
        db,
        """
        SELECT f.id, count(v.id) AS visits FROM findings_finding f
        LEFT JOIN findings_visitrequest v ON v.point_id = f.point_id AND v.reason = 'after_repair'
            AND v.origin LIKE 'after-repair:' || f.id || ':%%'
        WHERE f.status = 'closed' AND f.closure_reason = '' GROUP BY f.id HAVING count(v.id) <> 1
        """,
    ):
        yield f"closed finding {row['id']} has {row['visits']} later visits"


def the_chain_is_whole(db: Database, _acts: list[Act]) -> Iterator[str]:
    for [site, sequence, head] in db.execute("SELECT site_id, sequence, hash FROM findings_head").fetchall():
        previous, expected = GENESIS, 0
        for row in _rows(db, "SELECT * FROM findings_entry WHERE site_id = %s ORDER BY sequence", site):
            expected += 1
            previous = chained(previous, _hashed_part(row))
            if row["sequence"] != expected or bytes(row["hash"]) != previous:
                yield f"the chain of {site} breaks at {expected}"
                return
        if (sequence, bytes(head)) != (expected, previous):
            yield f"the chain of {site} ends at {expected}, its head at {sequence}"


def _hashed_part(row: dict[str, Any]) -> dict[str, Any]:
    names = {"site": "site_id", "user": "user_id", "key": "key_id"}
    same = ("id", "sequence", "act", "subject_kind", "subject_id", "subject_version", "at", "recorded_at")
    more = ("actor_name", "request_id", "reason", "detail")
    return {name: row[name] for name in same + more} | {name: row[column] for name, column in names.items()}


def numbers_have_no_gap(db: Database, _acts: list[Act]) -> Iterator[str]:
    for table in ("findings_finding", "workorders_workorder"):
        [row] = _rows(db, f"SELECT count(*) AS rows, coalesce(max(number), 0) AS last FROM {table}")
        if row["rows"] != row["last"]:
            yield f"{table} has {row['rows']} rows, numbered up to {row['last']}"


def periods_were_done_once(db: Database, _acts: list[Act]) -> Iterator[str]:
    """Each minute is done once at most, and of the newest as many as are promised."""
    done = _rows(
        db,
        "SELECT period, count(*) AS times FROM jobs_jobrun "
        "WHERE job = %s AND outcome = 'done' AND period <> '' GROUP BY period ORDER BY period",
        EVERY_MINUTE,
    )
    yield from (f"period {row['period']} was done {row['times']} times" for row in done if row["times"] > 1)
    [[now, zone]] = db.execute("SELECT now(), min(time_zone) FROM findings_site").fetchall()
    [[local]] = db.execute("SELECT %s AT TIME ZONE %s", [now, zone]).fetchall()
    periods = {row["period"] for row in done}
    # The present minute may just have begun; the ones before it are promised.
    for back in range(1, CATCH_UP):
        period = f"{local - timedelta(minutes=back):%Y-%m-%dT%H:%M}"
        if period not in periods:
            yield f"period {period} was promised and not done"


def as_json(figures: dict[str, Any]) -> str:
    """Write the figures."""
    return json.dumps(figures, indent=1, sort_keys=True, default=str)
