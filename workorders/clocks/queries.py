"""Read escalations; find which steps are due and not yet told, and which points are due a visit."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from django.db import connection
from django.db.models import Exists, Max, OuterRef, QuerySet, Subquery

from findings.kinds.base import Medium
from findings.plant.models import MeasuringPoint, Site
from findings.plant.rules import Criticality, Method, Role
from findings.readings.models import Reading
from findings.routes.models import VisitRequest
from findings.routes.rules import VisitReason, VisitState
from workorders.calendars.queries import calendars_of
from workorders.clocks.models import Escalation
from workorders.clocks.rules import EscalationStep, is_reached_by_share
from workorders.orders.queries import service_levels, share_without_order, shares_of

# An order brings its own clock. A finding without one has the site's: P1 for safety, else P3, because
# nobody has ranked it. A reported repair has the clock of its check. Approved deferrals stop each of them:
# both ends move by the time spent waiting, so that the share used stands still meanwhile. What runs in
# working hours, or stood still while its order waited, is only found here: its clock is read afterwards.
_MISSING = """
WITH steps(step, share, age) AS (
    SELECT * FROM unnest(%(steps)s::int[], %(shares)s::numeric[], %(ages)s::interval[])
),
clock AS (
    SELECT f.id, f.number, f.reopened_count AS episode, o.id AS order_id, l.id AS level_id,
        a.start_at + w.length AS start_at, p.promised_at + w.length AS due_at,
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
        SELECT * FROM workorders_servicelevel r
        WHERE r.site_id = f.site_id AND r.priority = CASE WHEN f.is_safety THEN 'P1' ELSE 'P3' END
            AND r.kind IN ('', f.kind)
        ORDER BY r.kind DESC LIMIT 1
    ) l ON true
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
        WHERE extract(epoch FROM %(at)s - clock.start_at)
                >= steps.share * extract(epoch FROM clock.due_at - clock.start_at)
            OR %(at)s - clock.start_at >= steps.age
            OR clock.by_reading AND %(at)s >= clock.start_at
    ) AS top
    FROM clock
)
SELECT climbed.id, climbed.number, climbed.episode, steps.step, climbed.start_at, climbed.due_at,
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
    by_reading: bool
    order_id: uuid.UUID | None
    level_id: uuid.UUID | None


class PointDue(NamedTuple):
    """A measuring point, with the day from which its next routine visit counts."""

    point_id: uuid.UUID
    method: Method
    medium: Medium | None
    criticality: Criticality
    last_on: date


def escalations() -> QuerySet[Escalation]:
    """Return all escalations; a door narrows them to the caller's sites."""
    return Escalation.objects.select_related("finding__asset", "taken_by")


def free_steps(told: Escalation, roles: Collection[Role]) -> dict[uuid.UUID, int]:
    """Lock and return the steps of the same climb that nobody took and that ask for one of the roles."""
    rows = Escalation.objects.filter(
        finding_id=told.finding_id,
        episode=told.episode,
        taken_at__isnull=True,
        to_role__in=[role.value for role in roles],
    )
    # In one order, so that two people who take the same finding wait for each other instead of locking up.
    return dict(rows.order_by("step").select_for_update().values_list("pk", "step"))


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
    """Yield the steps that are reached: those that the sweep knows, and those whose clock says so."""
    read = _readings([row for row in found if row.by_reading], at)
    for row in found:
        due_at = row.due_at
        share = read.get(row.finding_id)
        if row.by_reading and not is_reached_by_share(
            row.step, steps, share=share or Decimal(0), age=at - row.started_at
        ):
            continue
        yield Missing(
            row.finding_id, row.number, row.episode, row.step, row.started_at, due_at or row.started_at, share
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
    }
    with connection.cursor() as cursor:
        cursor.execute(_MISSING, given)
        return [_Found(*row) for row in cursor.fetchall()]


def sites(site_ids: Sequence[uuid.UUID] | None) -> list[Site]:
    """Return the named sites, or all, always in one order."""
    rows = Site.objects.all() if site_ids is None else Site.objects.filter(pk__in=list(site_ids))
    return list(rows.order_by("pk"))


def points_without_visit(site: Site) -> Iterator[PointDue]:
    """Yield a site's points in use for which no routine visit is wanted."""
    zone = ZoneInfo(site.time_zone)
    last = Reading.objects.filter(point_id=OuterRef("pk")).order_by().values("point_id")
    wanted = VisitRequest.objects.filter(
        point_id=OuterRef("pk"), reason=VisitReason.PERIODIC, state=VisitState.WANTED
    )
    rows = MeasuringPoint.objects.filter(
        ~Exists(wanted), site=site, retired_at__isnull=True, asset__decommissioned_at__isnull=True
    ).annotate(last_taken_at=Subquery(last.annotate(last=Max("taken_at")).values("last")))
    for pk, way, medium, criticality, created_at, taken_at in rows.values_list(
        "pk", "method", "medium", "asset__criticality", "created_at", "last_taken_at"
    ).iterator(chunk_size=2_000):
        yield PointDue(
            pk,
            Method(way),
            Medium(medium) if medium else None,
            Criticality(criticality),
            (taken_at or created_at).astimezone(zone).date(),
        )


def known_origins(site_id: uuid.UUID, origins: Sequence[str]) -> set[str]:
    """Return which of the origins have asked for a visit already."""
    rows = VisitRequest.objects.filter(site_id=site_id, origin__in=list(origins))
    return set(rows.values_list("origin", flat=True))
