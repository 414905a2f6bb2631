"""Faults put in on purpose, so that the count is known to be able to fail."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import psycopg

Database = psycopg.Connection[Any]

_ORDER = "(SELECT id FROM workorders_workorder WHERE state = 'closed' ORDER BY number DESC LIMIT 1)"
_SECOND_ENTRY = """
INSERT INTO findings_entry (id, site_id, sequence, act, subject_kind, subject_id, subject_version, at,
    recorded_at, user_id, key_id, actor_name, request_id, reason, detail, previous_hash, hash)
SELECT gen_random_uuid(), site_id, 1000000, act, subject_kind, subject_id, subject_version, at,
    recorded_at, user_id, key_id, actor_name, request_id, reason, detail, previous_hash, hash
FROM findings_entry WHERE act = """
_COLUMNS = (
    "SELECT string_agg(quote_ident(column_name), ', ') FROM information_schema.columns "
    "WHERE table_name = %s AND column_name <> ALL (%s)"
)

PLANTED: Final[dict[str, tuple[str, str]]] = {
    # name: the check that has to name it, the statement that plants it
    "a lost reading": (
        "readings_are_there_once",
        "DELETE FROM findings_reading WHERE id = (SELECT id FROM findings_reading ORDER BY id LIMIT 1)",
    ),
    "a lost move": (
        "acknowledged_moves_are_in_the_logbook_once",
        "DELETE FROM findings_entry WHERE act = 'work_order.started' AND subject_id = " + _ORDER,
    ),
    "a dropped entry": (
        "the_chain_is_whole",
        "DELETE FROM findings_entry WHERE sequence = (SELECT max(sequence) / 2 FROM findings_entry)",
    ),
    "an altered entry": (
        "the_chain_is_whole",
        "UPDATE findings_entry SET reason = 'nothing happened' WHERE sequence = 3",
    ),
    "a forbidden state": (
        "histories_are_allowed",
        "UPDATE workorders_workorder SET state = 'in_progress', ended_at = NULL WHERE id = " + _ORDER,
    ),
    "a silent change": (
        "states_have_their_entries",
        "UPDATE workorders_workorder SET version = version + 1 WHERE id = " + _ORDER,
    ),
    "a doubled effect": (
        "keys_had_one_effect",
        _SECOND_ENTRY + "'work_order.started' LIMIT 1",
    ),
    "a doubled reminder": (
        "reminders_were_sent_once",
        _SECOND_ENTRY + "'finding.escalated' LIMIT 1",
    ),
    "a lost verdict": (
        "states_have_their_entries",
        "DELETE FROM findings_entry WHERE act = 'finding.closed'",
    ),
    "a lost visit": (
        "visits_are_asked_for_once",
        "DELETE FROM findings_visitrequest WHERE reason = 'after_repair'",
    ),
    "a lost finding's order": (
        "orders_are_one_for_a_finding",
        "DELETE FROM workorders_orderfinding WHERE order_id = " + _ORDER,
    ),
    "a period never done": (
        "periods_were_done_once",
        "DELETE FROM jobs_jobrun WHERE job = 'schedule_reinspections'",
    ),
}


def plant(db: Database, name: str) -> None:
    """Plant one fault on a superuser's connection, past every trigger; the caller rolls it back."""
    db.execute("SET LOCAL session_replication_role = replica")
    done = db.execute(PLANTED[name][1])
    assert done.rowcount, f"there was nothing to plant {name} on"


def plant_doubled_order(db: Database) -> None:
    """Give a finding a second order, as if a job had run twice: past the unique keys as well."""
    db.execute("SET LOCAL session_replication_role = replica")
    [[columns]] = db.execute(_COLUMNS, ["workorders_workorder", ["id", "number"]]).fetchall()
    db.execute(
        f"INSERT INTO workorders_workorder (id, number, {columns}) "
        f"SELECT gen_random_uuid(), number + 1000000, {columns} FROM workorders_workorder WHERE id = {_ORDER}"
    )
    [[columns]] = db.execute(_COLUMNS, ["workorders_orderfinding", ["id", "order_id"]]).fetchall()
    identity = "gen_random_uuid(), " if _has_uuid(db) else ""
    names = "id, " if identity else ""
    db.execute(
        f"INSERT INTO workorders_orderfinding ({names}order_id, {columns}) "
        f"SELECT {identity}(SELECT id FROM workorders_workorder ORDER BY number DESC LIMIT 1), {columns} "
        f"FROM workorders_orderfinding WHERE order_id = {_ORDER}"
    )


def _has_uuid(db: Database) -> bool:
    [[kind]] = db.execute(
        "SELECT data_type FROM information_schema.columns "
        "WHERE table_name = 'workorders_orderfinding' AND column_name = 'id'"
    ).fetchall()
    return bool(kind == "uuid")


PLANTERS: Final[dict[str, tuple[str, Callable[[Database], None]]]] = {
    **{name: (check, lambda db, name=name: plant(db, name)) for name, (check, _) in PLANTED.items()},  # type: ignore[misc]
    "a doubled order": ("orders_are_one_for_a_finding", plant_doubled_order),
}
