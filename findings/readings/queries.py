"""Read readings."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from datetime import datetime

from django.db.models import Max, QuerySet

from findings.readings.models import Reading


def readings() -> QuerySet[Reading]:
    """Return all readings; a door narrows them to the caller's sites."""
    return Reading.objects.select_related("point", "point__asset")


def last_taken(point_ids: Collection[uuid.UUID]) -> dict[tuple[uuid.UUID, str], datetime]:
    """Return when each point was last read, by point and kind."""
    rows = Reading.objects.filter(point_id__in=point_ids).values("point_id", "kind")
    found = rows.annotate(last=Max("taken_at")).values_list("point_id", "kind", "last")
    return {(point_id, kind): last for point_id, kind, last in found}
