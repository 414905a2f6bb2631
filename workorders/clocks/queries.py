"""Read escalations; find which steps are due and not yet told, and which points are due a visit."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterator, Sequence
from datetime import date, datetime
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
from workorders.clocks.models import Escalation
from workorders.clocks.rules import EscalationStep

# An order brings its own clock. A finding without one has the site's: P1 for safety, else P3, because
# nobody has ranked it. A reported repair has the clock of its check. Approved deferrals stop each of them:
# both ends move by the time spent waiting, so that the share used stands still meanwhile.
_MISSING = """
WITH steps(step, share, age) AS (
    SELECT * FROM unnest(%(steps)s::int[], %(shares)s::numeric[], %(ages)s::interval[])
),
clock AS (
    SELECT f.id, f.number, f.reopened_count AS episode,
        a.start_at + w.length AS start_at, p.promised_at + w.length AS due_at
    FROM findings_finding f
    JOIN findings_site s ON s.id = f.site_id
    LEFT JOIN workorders_orderfinding t ON t.finding_id = f.id AND t.ended_at IS NULL
    LEFT JOIN workorders_workorder o ON o.id = t.order_id
    LEFT JOIN workorders_servicelevel l
        ON l.site_id = f.site_id AND l.priority = CASE WHEN f.is_safety THEN 'P1' ELSE 'P3' END
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
    ) AS top
    FROM clock
)
SELECT climbed.id, climbed.number, climbed.episode, steps.step, climbed.start_at, climbed.due_at
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
    """Return the reached steps that were not told, by finding from `after` on, lower steps first."""
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
        return [Missing(*row) for row in cursor.fetchall()]


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
