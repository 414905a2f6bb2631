"""Read judged conditions."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db.models import Exists, OuterRef, QuerySet

from findings.conditions.models import Condition
from findings.conditions.rules import Standing, standing_of


def conditions() -> QuerySet[Condition]:
    """Return all conditions, newest first; a door narrows them to the caller's sites."""
    return Condition.objects.select_related("point", "reading").order_by("-at", "-recorded_at", "-id")


def standing_at(point_id: uuid.UUID, kind: str, since: datetime) -> Condition | None:
    """Return the condition that stands for a point and kind among those that speak of ``since`` or later."""
    overruled = Exists(Condition.objects.filter(overrules=OuterRef("pk")))
    rows = conditions().filter(point_id=point_id, kind=kind, at__gte=since).annotate(overruled=overruled)
    return standing_of(
        (row, Standing(row.method, row.severity, row.at, row.recorded_at, row.overruled)) for row in rows
    )
