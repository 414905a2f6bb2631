"""Find which points are due a routine visit, and on which days their site works."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from itertools import islice
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from django.db import connection
from django.db.models import Max, OuterRef, Subquery

from findings.kinds.base import Medium
from findings.plant.models import MeasuringPoint, Site
from findings.plant.rules import Criticality, Method
from findings.readings.models import Reading
from findings.routes.models import VisitRequest
from findings.routes.rules import VisitReason, VisitState
from workorders.calendars.queries import calendar_of

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


def works_on(site: Site) -> Callable[[date], bool]:
    """Return what tells whether people work at a site on a day, by its calendar (two queries)."""
    return calendar_of(site).is_attended


def known_origins(site_id: uuid.UUID, origins: Sequence[str]) -> set[str]:
    """Return which of the origins have asked for a visit already."""
    rows = VisitRequest.objects.filter(site_id=site_id, origin__in=list(origins))
    return set(rows.values_list("origin", flat=True))
