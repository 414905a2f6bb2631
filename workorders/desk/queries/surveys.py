"""Surveys as the pages show them."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, IntegerField, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from findings.plant.models import Site
from findings.readings.models import Reading
from findings.register.models import Evidence, Finding
from findings.register.rules import EvidenceRole
from findings.surveys.models import Survey
from workorders.desk.queries.paging import Slice, Step, sliced

MOST_READINGS = 500


def survey_list(site: Site, after: str) -> Slice[Survey]:
    """Return a slice of the walks, newest first, each with its counts (one query)."""
    rows = Survey.objects.filter(site=site).select_related("route", "inspector", "instrument")
    rows = rows.annotate(
        readings=_counted(Reading.objects.filter(survey_id=OuterRef("pk")), "survey_id"),
        found=_counted(
            Evidence.objects.filter(reading__survey_id=OuterRef("pk"), role=EvidenceRole.FOUND),
            "reading__survey_id",
        ),
    )
    return sliced(rows, (Step("started_at", down=True), Step("id", down=True)), after)


def _counted(rows: QuerySet[Any], key: str) -> Coalesce:
    counts = rows.order_by().values(key).annotate(number=Count("id")).values("number")
    return Coalesce(Subquery(counts, output_field=IntegerField()), 0)


def survey_seen(survey_id: uuid.UUID, site_ids: Collection[uuid.UUID]) -> Survey | None:
    """Return one walk of these sites, or None."""
    rows = Survey.objects.select_related("site", "route", "inspector", "instrument")
    return rows.filter(pk=survey_id, site_id__in=list(site_ids)).first()


@dataclass(frozen=True, slots=True)
class Heard:
    """A reading of a walk with the finding it speaks about, if any."""

    reading: Reading
    finding: Finding | None
    role: str


def readings_of(survey: Survey) -> list[Heard]:
    """Return a walk's readings in the order they were taken, with their findings (two queries)."""
    rows = Reading.objects.filter(survey=survey).select_related("point__asset", "instrument")
    readings = list(rows.order_by("taken_at", "id")[:MOST_READINGS])
    spoken: dict[uuid.UUID, list[Evidence]] = defaultdict(list)
    held = Evidence.objects.filter(reading_id__in=[reading.pk for reading in readings])
    for evidence in held.select_related("finding").order_by("recorded_at", "id"):
        spoken[evidence.reading_id].append(evidence)
    heard = []
    for reading in readings:
        last = spoken[reading.pk][-1] if spoken[reading.pk] else None
        heard.append(Heard(reading, last.finding if last else None, last.role if last else ""))
    return heard
