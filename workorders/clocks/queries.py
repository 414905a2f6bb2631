"""Read escalations; find which steps are due and not yet told, and which points are due a visit."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from datetime import date, datetime
from itertools import islice
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from django.db import connection
from django.db.models import Max, OuterRef, QuerySet, Subquery

from findings.kinds.base import Medium
from findings.plant.models import MeasuringPoint, Site
from findings.plant.rules import Criticality, Method, Role
from findings.readings.models import Reading
from findings.routes.models import VisitRequest
from findings.routes.rules import VisitReason, VisitState
from workorders.clocks.models import Escalation
from workorders.clocks.rules import GROWTH_FACTOR, TAKEN_HOLDS, TAKEN_HOLDS_DANGER, EscalationStep

# Steps are reached by the clock, and one more each time that a leak grew or a condition got worse since the
# last step was told (or taken). Whoever takes a step has some time in which only such growth is told.
#
# An order brings its own clock. A finding without one has the site's: P1 for safety, else P3, because
# nobody has ranked it. A reported repair has the clock of its check. Approved deferrals stop each of them:
# both ends move by the time spent waiting, so that the share used stands still meanwhile.
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
    SELECT f.id, f.number, f.reopened_count AS episode, told.step AS told,
        a.start_at + w.length AS start_at, p.promised_at + w.length AS due_at,
        told.taken_at > %(at)s - CASE WHEN f.is_safety THEN %(hold_danger)s ELSE %(hold)s END AS is_held,
        CASE WHEN r.grew THEN 'rate' WHEN c.grew THEN 'condition' ELSE '' END AS growth
    FROM findings_finding f
    JOIN findings_site s ON s.id = f.site_id
    LEFT JOIN workorders_orderfinding t ON t.finding_id = f.id AND t.ended_at IS NULL
    LEFT JOIN workorders_workorder o ON o.id = t.order_id
    LEFT JOIN workorders_servicelevel l
        ON l.site_id = f.site_id AND l.priority = CASE WHEN f.is_safety THEN 'P1' ELSE 'P3' END
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
                    OR %(at)s - clock.start_at >= steps.age))
    ) AS top
    FROM clock
)
SELECT climbed.id, climbed.number, climbed.episode, steps.step, climbed.start_at, climbed.due_at,
    climbed.growth
FROM climbed JOIN steps ON steps.step <= climbed.top
WHERE NOT EXISTS (
    SELECT FROM workorders_escalation e
    WHERE e.finding_id = climbed.id AND e.episode = climbed.episode AND e.step = steps.step
)
ORDER BY climbed.id, steps.step
LIMIT %(limit)s
"""
# A day on which anything was found, or a condition of the second step or worse was judged, is not quiet.
_VISITS = """
SELECT p.id, v.is_quiet FROM unnest(%(ids)s::uuid[]) AS p(id) CROSS JOIN LATERAL (
    SELECT (r.taken_at AT TIME ZONE %(zone)s)::date AS day, bool_and(r.kind = '' AND NOT EXISTS (
        SELECT FROM findings_condition c WHERE c.reading_id = r.id AND c.severity >= 2)) AS is_quiet
    FROM (
        SELECT id, taken_at, kind FROM findings_reading n
        WHERE n.point_id = p.id
            AND NOT EXISTS (SELECT FROM findings_reading x WHERE x.corrects_id = n.id)
        ORDER BY n.taken_at DESC LIMIT 50
    ) r
    GROUP BY day ORDER BY day DESC LIMIT 12
) v ORDER BY p.id, v.day
"""
_LOOKS = """
SELECT point_id, min(look_again_days) FROM (
    SELECT DISTINCT ON (point_id, kind, method) point_id, look_again_days FROM findings_condition c
    WHERE point_id = ANY(%(ids)s)
        AND NOT EXISTS (SELECT FROM findings_condition v WHERE v.overrules_id = c.id)
    ORDER BY point_id, kind, method, at DESC, recorded_at DESC
) newest WHERE look_again_days IS NOT NULL GROUP BY point_id
"""
CHUNK = 2_000
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


class PointDue(NamedTuple):
    """A measuring point with all that sets the day of its next routine visit.

    `visits` are its last visits, oldest first, True where quiet; `look_again_days` is what the condition that
    stands there wants at most; `wanted_id` and `wanted_on` are the visit that is wanted already.
    """

    point_id: uuid.UUID
    method: Method
    medium: Medium | None
    criticality: Criticality
    windows: Sequence[Mapping[str, Any]]
    last_on: date
    visits: tuple[bool, ...] = ()
    look_again_days: int | None = None
    wanted_id: uuid.UUID | None = None
    wanted_on: date | None = None


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
        "growth": GROWTH_FACTOR,
        "hold": TAKEN_HOLDS,
        "hold_danger": TAKEN_HOLDS_DANGER,
    }
    with connection.cursor() as cursor:
        cursor.execute(_MISSING, given)
        return [Missing(*row) for row in cursor.fetchall()]


def sites(site_ids: Sequence[uuid.UUID] | None) -> list[Site]:
    """Return the named sites, or all, always in one order."""
    rows = Site.objects.all() if site_ids is None else Site.objects.filter(pk__in=list(site_ids))
    return list(rows.order_by("pk"))


def points_due(site: Site) -> Iterator[PointDue]:
    """Yield a site's points in use, with the routine visit that is wanted of each, if any."""
    zone = ZoneInfo(site.time_zone)
    last = Reading.objects.filter(point_id=OuterRef("pk")).order_by().values("point_id")
    wanted = VisitRequest.objects.filter(
        point_id=OuterRef("pk"), reason=VisitReason.PERIODIC, state=VisitState.WANTED
    ).order_by("due_on")
    rows = MeasuringPoint.objects.filter(
        site=site, retired_at__isnull=True, asset__decommissioned_at__isnull=True
    ).annotate(
        last_taken_at=Subquery(last.annotate(last=Max("taken_at")).values("last")),
        wanted_id=Subquery(wanted.values("pk")[:1]),
        wanted_on=Subquery(wanted.values("due_on")[:1]),
    )
    points = rows.select_related("asset").order_by("pk").iterator(chunk_size=CHUNK)
    while chunk := list(islice(points, CHUNK)):
        ids = [point.pk for point in chunk]
        visits, looks = _visits_of(ids, site.time_zone), _looks_of(ids)
        for point in chunk:
            last_at = point.last_taken_at or point.created_at
            yield PointDue(
                point.pk,
                Method(point.method),
                Medium(point.medium) if point.medium else None,
                Criticality(point.asset.criticality),
                point.asset.running_windows,
                last_at.astimezone(zone).date(),
                visits.get(point.pk, ()),
                looks.get(point.pk),
                point.wanted_id,
                point.wanted_on,
            )


def _visits_of(point_ids: Sequence[uuid.UUID], zone: str) -> dict[uuid.UUID, tuple[bool, ...]]:
    """Return each point's last visits, oldest first: one for each day, True where nothing was found."""
    found: dict[uuid.UUID, tuple[bool, ...]] = {}
    with connection.cursor() as cursor:
        cursor.execute(_VISITS, {"ids": list(point_ids), "zone": zone})
        for point_id, is_quiet in cursor.fetchall():
            found[point_id] = (*found.get(point_id, ()), is_quiet)
    return found


def _looks_of(point_ids: Sequence[uuid.UUID]) -> dict[uuid.UUID, int]:
    """Return the shortest time until the next look that any method's newest condition of a point asks for."""
    with connection.cursor() as cursor:
        cursor.execute(_LOOKS, {"ids": list(point_ids)})
        return dict(cursor.fetchall())


def works_on(site: Site) -> Callable[[date], bool]:  # noqa: ARG001 - the site's calendar decides, once it has one
    """Return what tells whether a site works on a day: until it keeps a calendar, on every day."""
    return _every_day


def _every_day(day: date) -> bool:  # noqa: ARG001
    return True


def known_origins(site_id: uuid.UUID, origins: Sequence[str]) -> set[str]:
    """Return which of the origins have asked for a visit already."""
    rows = VisitRequest.objects.filter(site_id=site_id, origin__in=list(origins))
    return set(rows.values_list("origin", flat=True))
