"""Take turns: one holder at a time, by a row and the clock of the database."""

from __future__ import annotations

from django.db import connection

TURN_S = 15
"""A holder that has not renewed for so long has lost its turn."""

# A turn that would last longer than any is one from before the clock was set back: it is over as well.
_TAKE = """
INSERT INTO jobs_lease AS held (name, holder, token, until_at)
VALUES (%(name)s, %(holder)s, 1, clock_timestamp() + %(turn_s)s * interval '1 second')
ON CONFLICT (name) DO UPDATE SET
    holder = excluded.holder,
    token = held.token + CASE WHEN held.holder = excluded.holder THEN 0 ELSE 1 END,
    until_at = excluded.until_at
WHERE held.holder = excluded.holder
    OR held.until_at <= clock_timestamp()
    OR held.until_at > clock_timestamp() + %(turn_s)s * interval '1 second'
RETURNING token
"""


def take_turn(name: str, holder: str, *, turn_s: float = TURN_S) -> int | None:
    """Take or renew the turn and return its token; None while somebody else has it."""
    with connection.cursor() as cursor:
        cursor.execute(_TAKE, {"name": name, "holder": holder, "turn_s": turn_s})
        row = cursor.fetchone()
    return None if row is None else int(row[0])


def end_turn(name: str, holder: str) -> None:
    """Give the turn back at once, so that another need not wait for its end."""
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE jobs_lease SET until_at = clock_timestamp() WHERE name = %s AND holder = %s",
            [name, holder],
        )


def is_outdated(name: str, token: int | None) -> bool:
    """Tell whether somebody else has had the turn since this token was given."""
    if token is None:
        return False
    with connection.cursor() as cursor:
        cursor.execute("SELECT token > %s FROM jobs_lease WHERE name = %s", [token, name])
        row = cursor.fetchone()
    return bool(row and row[0])
