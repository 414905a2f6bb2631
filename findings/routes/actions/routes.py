"""Make and change routes and say where they stop."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import Any, TypedDict, Unpack

from django.db import transaction
from django.db.models import F

from findings.logbook import actions as logbook
from findings.plant import actions as plant
from findings.plant.models import MeasuringPoint
from findings.routes.models import Route, Stop
from plantcare.api import versions
from plantcare.api.actor import Actor
from plantcare.api.etags import stale
from plantcare.api.problems import Conflict, FieldError, NotFound, pointer

MOST_STOPS = 1_000
LONGEST_INTERVAL_DAYS = 3_660

plant.code_constraint("route_code_once_per_site")


class PointRetired(Conflict):
    """Nobody is sent to a point that is no more."""

    code = "point_retired"
    title = "A measuring point of the route is retired."


class RouteChanges(TypedDict, total=False):
    """What may change about a route; its stops are an act of their own."""

    code: str
    name: str
    interval_days: int | None
    retired: bool


def add_route(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    code: str,
    name: str,
    interval_days: int | None = None,
) -> Route:
    """Make a route without stops. Raises SiteUnknown, Invalid, CodeTaken."""
    with transaction.atomic():
        site = plant.site_of(site_id)
        route = Route.objects.create(
            site=site,
            code=plant.free_code(Route.objects.filter(site=site), code),
            name=plant.named(name),
            interval_days=_interval(interval_days),
            created_at=at,
        )
        _log(route, actor, at, "route.added", {"code": route.code, "name": route.name})
    return route


def change_route(
    *,
    actor: Actor,
    at: datetime,
    route_id: uuid.UUID,
    version: int | None = None,
    **changes: Unpack[RouteChanges],
) -> Route:
    """Change or retire a route. Raises NotFound, Invalid, CodeTaken, PreconditionFailed."""
    with transaction.atomic():
        route = Route.objects.filter(pk=route_id).first()
        if route is None:
            raise NotFound
        values: dict[str, Any] = dict(changes)
        if "code" in values:
            others = Route.objects.filter(site_id=route.site_id).exclude(pk=route.pk)
            values["code"] = plant.free_code(others, values["code"])
        if "name" in values:
            values["name"] = plant.named(values["name"])
        if "interval_days" in values:
            _interval(values["interval_days"])
        if "retired" in values:
            values["retired_at"] = (route.retired_at or at) if values.pop("retired") else None
        changed = versions.change(route, version, values)
        if changed:
            _log(route, actor, at, "route.changed", {"changed": changed})
    return route


def set_stops(
    *,
    actor: Actor,
    at: datetime,
    route_id: uuid.UUID,
    point_ids: Sequence[uuid.UUID],
    version: int | None = None,
) -> Route:
    """Replace a route's stops by these points in this order.

    Raises NotFound, Invalid for a point named twice or too many, OtherSite, PointRetired,
    PreconditionFailed.
    """
    with transaction.atomic():
        route = Route.objects.select_for_update(no_key=True).filter(pk=route_id).first()
        if route is None:
            raise NotFound
        if version is not None and version != route.version:
            raise stale(route.version)
        _check_points(route.site_id, point_ids)
        Stop.objects.filter(route=route).delete()
        Stop.objects.bulk_create(
            Stop(site_id=route.site_id, route=route, position=position, point_id=point_id)
            for position, point_id in enumerate(point_ids, start=1)
        )
        Route.objects.filter(pk=route.pk).update(version=F("version") + 1)
        route.version += 1
        _log(route, actor, at, "route.stops_set", {"point_ids": list(point_ids)})
    return route


def _check_points(site_id: uuid.UUID, point_ids: Sequence[uuid.UUID]) -> None:
    if len(point_ids) > MOST_STOPS:
        plant.refuse("/point_ids", "max_length", f"At most {MOST_STOPS} stops.")
    found = MeasuringPoint.objects.filter(site_id=site_id).in_bulk(point_ids)
    seen: set[uuid.UUID] = set()
    for index, point_id in enumerate(point_ids):
        where = pointer("point_ids", index)
        if point_id not in found:
            plant.unknown(where)
        if point_id in seen:
            plant.refuse(where, "point_repeated", "A route stops once at each point.")
        if found[point_id].retired_at is not None:
            raise PointRetired(errors=[FieldError(where, PointRetired.code, PointRetired.title)])
        seen.add(point_id)


def _interval(interval_days: int | None) -> int | None:
    if interval_days is not None and not 1 <= interval_days <= LONGEST_INTERVAL_DAYS:
        plant.refuse("/interval_days", "out_of_range", f"1 to {LONGEST_INTERVAL_DAYS} days.")
    return interval_days


def _log(route: Route, actor: Actor, at: datetime, act: str, detail: Any) -> None:
    logbook.write(
        site_id=route.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="route",
        subject_id=route.pk,
        subject_version=route.version,
        detail=detail,
    )
