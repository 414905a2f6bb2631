"""Judge every repair that was read and that nobody has judged."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime

from findings.plant.rules import Right
from plantcare.api.actor import Actor
from plantcare.api.problems import Refusal
from plantcare.jobs import items
from workorders.orders.actions import settle_orders
from workorders.verification import queries
from workorders.verification.actions.judging import verify
from workorders.verification.rules import Verdict


def judge_waiting(
    *, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None = None, limit: int = 500
) -> dict[str, int]:
    """Judge the newest reading of each repaired finding, then let orders follow their findings.

    Each finding is judged in a transaction of its own; a refused one (a repairer's own reading of a
    hazard) waits for another reading and doesn't stop the rest. Returns counts by verdict.
    """
    counts = {**{verdict.value: 0 for verdict in Verdict}, "refused": 0}
    for finding_id, reading_id in queries.waiting(site_ids, limit, but=items.parked()):
        with items.spared(finding_id):
            counts[_judged(actor, at, finding_id, reading_id)] += 1
    return {**counts, "orders_settled": settle_orders(actor=actor, at=at, site_ids=site_ids)}


def _judged(actor: Actor, at: datetime, finding_id: uuid.UUID, reading_id: uuid.UUID) -> str:
    """Return the verdict, or that judging was refused."""
    try:
        return verify(
            actor=actor,
            at=at,
            finding_id=finding_id,
            reading_id=reading_id,
            rights=frozenset({Right.VERIFY}),
        ).verdict
    except Refusal:
        return "refused"
