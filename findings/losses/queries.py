"""Read the loss segments of findings."""

from __future__ import annotations

import uuid

from django.db.models import QuerySet

from findings.losses.models import LossSegment
from findings.losses.rules import SegmentEnd


def segments() -> QuerySet[LossSegment]:
    """Return all segments, void ones too; a door narrows them to the caller's sites."""
    return LossSegment.objects.all()


def live() -> QuerySet[LossSegment]:
    """Return the segments that count: those not superseded."""
    return LossSegment.objects.filter(void_at__isnull=True)


def segments_of(finding_id: uuid.UUID, *, with_void: bool = False) -> QuerySet[LossSegment]:
    """Return a finding's segments, oldest first; superseded ones only when asked for."""
    rows = segments() if with_void else live()
    return rows.filter(finding_id=finding_id).order_by("started_at", "recorded_at", "id")


def running(finding_id: uuid.UUID) -> LossSegment | None:
    """Return the segment that still runs, if the finding loses now."""
    return live().filter(finding_id=finding_id, ended_at__isnull=True).first()


def last_repaired(finding_id: uuid.UUID) -> LossSegment | None:
    """Return the last segment that a repair ended."""
    ended = live().filter(finding_id=finding_id, end_reason=SegmentEnd.REPAIRED)
    return ended.order_by("-ended_at", "-id").first()
