"""Read findings with their evidence and assessments."""

from __future__ import annotations

import uuid
from collections.abc import Iterable

from django.db.models import F, OuterRef, QuerySet, Subquery

from findings.register.models import OPEN, Assessment, Evidence, Finding
from findings.register.rules import FindingStatus


def findings() -> QuerySet[Finding]:
    """Return all findings with what a list shows; a door narrows them to the caller's sites."""
    return Finding.objects.select_related("site", "asset", "asset__area", "point", "system")


def open_findings(site_ids: Iterable[uuid.UUID] | None = None) -> QuerySet[Finding]:
    """Return what is still on somebody's list: open, deferred, or repaired and not yet verified."""
    rows = findings().filter(OPEN)
    return rows if site_ids is None else rows.filter(site_id__in=list(site_ids))


def assessments_of(finding_id: uuid.UUID) -> QuerySet[Assessment]:
    """Return a finding's assessments, newest first."""
    return Assessment.objects.filter(finding_id=finding_id).order_by("-at", "-recorded_at", "-id")


def latest_assessment(finding_id: uuid.UUID) -> Assessment | None:
    """Return the last assessment that holds, else the last refusal."""
    rows = list(assessments_of(finding_id)[:50])
    return next((row for row in rows if row.leak_rate_m3_per_s is not None), rows[0] if rows else None)


def evidence() -> QuerySet[Evidence]:
    """Return all evidence with its reading."""
    return Evidence.objects.select_related("reading")


def evidence_of(finding_id: uuid.UUID) -> QuerySet[Evidence]:
    """Return the readings that speak for or about a finding, oldest first."""
    return evidence().filter(finding_id=finding_id).order_by("reading__taken_at", "recorded_at", "id")


def repaired_with_unjudged_reading(site_ids: Iterable[uuid.UUID] | None = None) -> QuerySet[Finding]:
    """Return repaired findings with a reading at their own point after the repair.

    ``after_repair_reading_id`` names the newest such reading. Whether it was judged already is known
    upstairs only: exclude those findings there.
    """
    newest = (
        Evidence.objects.filter(
            finding_id=OuterRef("pk"),
            reading__point_id=OuterRef("point_id"),
            reading__taken_at__gte=OuterRef("repaired_at"),
        )
        .order_by("-reading__taken_at", "-id")
        .values("reading_id")[:1]
    )
    rows = findings().filter(status=FindingStatus.REPAIRED).annotate(after_repair_reading_id=Subquery(newest))
    rows = rows.filter(after_repair_reading_id__isnull=False).order_by(F("repaired_at"), "id")
    return rows if site_ids is None else rows.filter(site_id__in=list(site_ids))
