"""Read routes, their stops and the visits that are wanted."""

from __future__ import annotations

import uuid
from datetime import date

from django.db.models import QuerySet

from findings.routes.models import Route, Stop, VisitRequest
from findings.routes.rules import VisitState


def routes() -> QuerySet[Route]:
    """Return all routes, retired ones too."""
    return Route.objects.all()


def stops_of(route_id: uuid.UUID) -> list[Stop]:
    """Return a route's stops in walking order, with their points and assets."""
    return list(Stop.objects.filter(route_id=route_id).select_related("point__asset").order_by("position"))


def visit_requests() -> QuerySet[VisitRequest]:
    """Return all visit requests, with their points and assets."""
    return VisitRequest.objects.select_related("point__asset")


def wanted_visits(site_id: uuid.UUID, due_by: date | None = None) -> QuerySet[VisitRequest]:
    """Return a site's open visit requests, the most pressing first, up to a day where one is named."""
    rows = visit_requests().filter(site_id=site_id, state=VisitState.WANTED)
    if due_by is not None:
        rows = rows.filter(due_on__lte=due_by)
    return rows.order_by("due_on", "id")
