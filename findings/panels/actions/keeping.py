"""Keep what a job judged, and let it count."""

from __future__ import annotations

from datetime import datetime

from findings.conditions.actions import keep
from findings.kinds.condition import ConditionFound
from findings.readings.models import Reading
from findings.register.actions.conditions import consider
from plantcare.api.actor import Actor


def keep_judged(found: ConditionFound, reading: Reading, *, actor: Actor, at: datetime) -> None:
    """Keep what was judged of a reading and let it count for its finding, inside the caller's transaction."""
    condition = keep(found, reading=reading, at=reading.taken_at, recorded_at=at)
    consider(actor=actor, at=at, condition=condition)
