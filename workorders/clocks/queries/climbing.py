"""Find which steps of escalation are due and not yet told."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any, NamedTuple

from django.db import connection

from workorders.calendars.queries import calendars_of
from workorders.clocks.rules import (
    GROWTH_FACTOR,
    TAKEN_HOLDS,
    TAKEN_HOLDS_DANGER,
    EscalationStep,
    is_reached_by_share,
)
from workorders.orders.queries import service_levels, share_without_order, shares_of

# Steps are reached by the clock, and one more each time that a leak grew or a condition got worse since the
# last step was told (or taken). Whoever takes a step has some time in which only such growth is told.
#
# An order brings its own clock. A finding without one has the site's: P1 for safety, else P3, because
# nobody has ranked it. A reported repair has the clock of its check. Approved deferrals stop each of them:
# both ends move by the time spent waiting, so that the share used stands still meanwhile. What runs in
# working hours, or stood still while its order waited, is only found here: its clock is read afterwards.
# A taker's rest and growth are told by rows alone, so that no clock is read of what is held.
_MISSING = """
WITH steps(step, share, age) AS (
    SELECT * FROM unnest(%(steps)s::int[], %(shares)s::numeric[], %(ages)s::interval[])
),
told AS (
    SELECT finding_id, episode, max(step) AS step, greatest(max(at), max(taken_at)) AS at,
        max(taken_at) AS taken_at
    FROM workorders_escalation WHERE site_id = %(site)s GROUP BY finding_id, episode
),
clock AS (
    SELECT f.id, f.number, f.reopened_count AS episode, told.step AS told, o.id AS order_id, l.id AS level_id,
        a.start_at + w.length AS start_at, p.promised_at + w.length AS due_at,
        told.taken_at > %(at)s - CASE WHEN f.is_safety THEN %(hold_danger)s ELSE %(hold)s END AS is_held,
        CASE WHEN r.grew THEN 'rate' WHEN c.grew THEN 'condition' ELSE '' END AS growth,
        CASE WHEN o.id IS NULL THEN l.repair_working_hours IS NOT NULL
            ELSE o.promise #>> ARRAY[CASE WHEN f.status = 'repaired' THEN 'verify' ELSE 'repair' END, 'unit']
                    IS NOT DISTINCT FROM 'working_minutes'
                OR EXISTS (
                    SELECT FROM workorders_clocksegment g
                    WHERE g.order_id = o.id AND g.pauses <> '{}' AND g.began_at >= o.clock_from_at
                ) END AS by_reading
    FROM findings_finding f
    JOIN findings_site s ON s.id = f.site_id
    LEFT JOIN workorders_orderfinding t ON t.finding_id = f.id AND t.ended_at IS NULL
    LEFT JOIN workorders_workorder o ON o.id = t.order_id
    LEFT JOIN LATERAL (
        SELECT * FROM workorders_servicelevel q
        WHERE q.site_id = f.site_id AND q.priority = CASE WHEN f.is_safety THEN 'P1' ELSE 'P3' END
            AND q.kind IN ('', f.kind)
        ORDER BY q.kind DESC LIMIT 1
    ) l ON true
    LEFT JOIN told ON told.finding_id = f.id AND told.episode = f.reopened_count
    CROSS JOIN LATERAL (SELECT EXISTS (
        SELECT FROM findings_losssegment n JOIN findings_losssegment b ON b.finding_id = n.finding_id
        WHERE n.finding_id = f.id AND n.void_at IS NULL AND n.ended_at IS NULL AND n.start_reason = 'changed'
            AND n.started_at > coalesce(told.at, f.opened_at) AND b.void_at IS NULL
            AND b.started_at <= coalesce(told.at, f.opened_at)
            AND (b.ended_at IS NULL OR b.ended_at > coalesce(told.at, f.opened_at))
            AND b.leak_rate_m3_per_s > 0
            AND n.leak_rate_m3_per_s >= %(growth)s * b.leak_rate_m3_per_s) AS grew) r
    CROSS JOIN LATERAL (SELECT f.condition_severity > max(h.severity) AS grew FROM (
        SELECT DISTINCT ON (k.method) k.severity FROM findings_condition k
        WHERE k.point_id = f.point_id AND k.kind = f.kind AND k.at >= f.opened_at
            AND NOT EXISTS (SELECT FROM findings_condition v WHERE v.overrules_id = k.id)
            AND k.recorded_at <= coalesce(told.at, (
                SELECT min(e.recorded_at) FROM findings_condition e
                WHERE e.point_id = f.point_id AND e.kind = f.kind AND e.at >= f.opened_at))
        ORDER BY k.method, k.at DESC, k.recorded_at DESC) h) c
    CROSS JOIN LATERAL (SELECT CASE
        WHEN f.status = 'repaired' THEN o.repaired_at
        WHEN o.id IS NOT NULL THEN o.clock_from_at
        WHEN f.reopened_count > 0 THEN f.last_heard_at
        ELSE f.found_at END AS start_at) a
    CROSS JOIN LATERAL (SELECT CASE
        WHEN f.status = 'repaired' THEN o.verify_by_at
        WHEN o.id IS NOT NULL THEN o.due_at
        WHEN l.repair_hours IS NOT NULL THEN a.start_at + l.repair_hours * interval '1 hour'
        ELSE (a.start_at AT TIME ZONE s.time_zone + make_interval(days => l.repair_days))
            AT TIME ZONE s.time_zone END AS promised_at) p
    CROSS JOIN LATERAL (
        SELECT coalesce(sum(least(d.ended_at, d.until_at, %(at)s) - d.approved_at), interval '0') AS length
        FROM findings_deferral d
        WHERE d.finding_id = f.id
            AND d.approved_at >= a.start_at AND d.approved_at < least(p.promised_at, %(at)s)
    ) w
    WHERE f.site_id = %(site)s AND f.status IN ('open', 'deferred', 'repaired') AND f.id >= %(after)s
),
climbed AS (
    SELECT clock.*, (
        SELECT max(steps.step) FROM steps
        WHERE (clock.growth <> '' AND steps.step = coalesce(clock.told, 0) + 1)
            OR (clock.is_held IS NOT TRUE
                AND (extract(epoch FROM %(at)s - clock.start_at)
                        >= steps.share * extract(epoch FROM clock.due_at - clock.start_at)
                    OR %(at)s - clock.start_at >= steps.age
                    OR (clock.by_reading AND %(at)s >= clock.start_at)))
    ) AS top
    FROM clock
)
SELECT climbed.id, climbed.number, climbed.episode, steps.step, climbed.start_at, climbed.due_at,
    CASE WHEN steps.step <= coalesce(climbed.told, 0) + 1 THEN climbed.growth ELSE '' END AS growth,
    climbed.by_reading, climbed.order_id, climbed.level_id
FROM climbed JOIN steps ON steps.step <= climbed.top
WHERE NOT EXISTS (
    SELECT FROM workorders_escalation e
    WHERE e.finding_id = climbed.id AND e.episode = climbed.episode AND e.step = steps.step
)
ORDER BY climbed.id, steps.step
LIMIT %(limit)s
"""
_FIRST_ID = uuid.UUID(int=0)


class Missing(NamedTuple):
    """A step that a finding has reached and nobody was told of."""

    finding_id: uuid.UUID
    number: int
    episode: int
    step: int
    started_at: datetime
    due_at: datetime
    growth: str
    # Of a clock that was read; None: the share follows from the two moments.
    share: Decimal | None = None


class _Found(NamedTuple):
    """A row of the sweep; `by_reading`: whether the step is reached is known once the clock is read."""

    finding_id: uuid.UUID
    number: int
    episode: int
    step: int
    started_at: datetime
    due_at: datetime | None
    growth: str
    by_reading: bool
    order_id: uuid.UUID | None
    level_id: uuid.UUID | None


def missing_steps(
    site_id: uuid.UUID,
    at: datetime,
    steps: Sequence[EscalationStep],
    *,
    after: uuid.UUID = _FIRST_ID,
    limit: int = 1_000,
) -> list[Missing]:
    """Return the reached steps that were not told, by finding from `after` on, lower steps first.

    Fewer than the limit only when there are no more.
    """
    reached: dict[tuple[uuid.UUID, int], Missing] = {}
    # Two findings at least with all their steps, so that the next chunk begins further on.
    size = max(limit, 2 * len(steps))
    while True:
        found = _sweep(site_id, at, steps, after, size)
        for missing in _reached(found, at, steps):
            reached[missing.finding_id, missing.step] = missing
        if len(found) < size or len(reached) >= limit:
            return list(reached.values())
        after = found[-1].finding_id


def _reached(found: Sequence[_Found], at: datetime, steps: Sequence[EscalationStep]) -> Iterator[Missing]:
    """Yield the steps that are reached: what the sweep knows, what grew, what a read clock says."""
    read = _readings([row for row in found if row.by_reading], at)
    for row in found:
        share = read.get(row.finding_id, Decimal(0)) if row.by_reading else None
        # What grew has reached its step whatever the clock says.
        if share is not None and not row.growth:
            age = at - row.started_at
            if not is_reached_by_share(row.step, steps, share=share, age=age):
                continue
        due_at = row.due_at or row.started_at
        yield Missing(
            row.finding_id, row.number, row.episode, row.step, row.started_at, due_at, row.growth, share
        )


def _readings(found: Sequence[_Found], at: datetime) -> dict[uuid.UUID, Decimal]:
    """Return the used share of the clocks that only a reading tells: of orders, and of what has none yet."""
    ordered = {row.finding_id: row.order_id for row in found if row.order_id is not None}
    shares = shares_of(ordered.values(), at)
    told = {finding_id: shares[order_id] for finding_id, order_id in ordered.items() if order_id in shares}
    alone = [row for row in found if row.order_id is None]
    levels = {row.pk: row for row in service_levels().filter(pk__in={row.level_id for row in alone})}
    calendars = calendars_of({level.site_id: level.site for level in levels.values()}.values())
    for row in alone:
        if row.level_id in levels:
            level = levels[row.level_id]
            told[row.finding_id] = share_without_order(level, row.started_at, at, calendars[level.site_id])
    return told


def _sweep(
    site_id: uuid.UUID, at: datetime, steps: Sequence[EscalationStep], after: uuid.UUID, limit: int
) -> list[_Found]:
    given: dict[str, Any] = {
        "site": site_id,
        "at": at,
        "after": after,
        "limit": limit,
        "steps": list(range(1, len(steps) + 1)),
        "shares": [step.share for step in steps],
        "ages": [step.age for step in steps],
        "growth": GROWTH_FACTOR,
        "hold": TAKEN_HOLDS,
        "hold_danger": TAKEN_HOLDS_DANGER,
    }
    with connection.cursor() as cursor:
        cursor.execute(_MISSING, given)
        return [_Found(*row) for row in cursor.fetchall()]
