"""Read findings with their evidence and assessments."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import F, OuterRef, QuerySet, Subquery

from findings.kinds.base import Medium
from findings.physics.estimate import Status
from findings.readings.models import Reading
from findings.register.models import OPEN, Assessment, Evidence, Finding
from findings.register.rules import CostNow, FindingStatus, cost_now, no_cost
from findings.supply.models import DatedValue
from findings.supply.rules import Quantity

_Place = tuple[uuid.UUID, uuid.UUID | None]


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
    """Return the last assessment that holds, else the last that is indicative, else the last refusal."""
    rows = list(assessments_of(finding_id)[:50])
    return min(rows, key=_least_certain_last, default=None)


def _least_certain_last(assessment: Assessment) -> int:
    ranks = {Status.REFUSED: 2, Status.INDICATIVE: 1}
    return ranks.get(Status(assessment.status), 0)


def evidence() -> QuerySet[Evidence]:
    """Return all evidence with its reading."""
    return Evidence.objects.select_related("reading")


def evidence_of(finding_id: uuid.UUID) -> QuerySet[Evidence]:
    """Return the readings that speak for or about a finding, oldest first."""
    return evidence().filter(finding_id=finding_id).order_by("reading__taken_at", "recorded_at", "id")


def readings() -> QuerySet[Reading]:
    """Return all readings, for a door that takes the id of one."""
    return Reading.objects.all()


def around(finding: Finding, at: datetime) -> dict[str, Any]:
    """Return what is shown beside one finding: its cost now and its latest assessment, by id."""
    latest = latest_assessment(finding.pk)
    return {"costs": costs_of([finding], at), "assessments": {} if latest is None else {finding.pk: latest}}


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


def values_in_force(site_ids: Collection[uuid.UUID], at: datetime) -> dict[_Place, dict[Quantity, Decimal]]:
    """Return the prices and factors in force at a moment, by site and system (None: the whole site)."""
    rows = DatedValue.objects.filter(site_id__in=site_ids, void_at__isnull=True, from_at__lte=at)
    newest = rows.order_by("site_id", "system_id", "quantity", "-from_at")
    found: dict[_Place, dict[Quantity, Decimal]] = defaultdict(dict)
    for row in newest.distinct("site_id", "system_id", "quantity"):
        found[row.site_id, row.system_id][Quantity(row.quantity)] = row.value
    return found


def costs_of(rows: Sequence[Finding], at: datetime) -> dict[uuid.UUID, CostNow]:
    """Return what findings cost now, by id, with one query for all; rows of ``findings()`` are expected."""
    in_force = values_in_force({finding.site_id for finding in rows}, at)
    return {finding.pk: _cost_of(finding, in_force) for finding in rows}


def _cost_of(finding: Finding, in_force: Mapping[_Place, Mapping[Quantity, Decimal]]) -> CostNow:
    if finding.status not in {FindingStatus.OPEN, FindingStatus.DEFERRED}:
        return no_cost("not_losing", f"A finding that is {finding.status} costs nothing now.")
    if finding.leak_rate_status == Status.INDICATIVE:
        return no_cost(
            "leak_rate_indicative", "The leak rate is an order of magnitude only: no cost is made of it."
        )
    if finding.leak_rate_m3_per_s is None:
        return no_cost("leak_rate_missing", "No leak rate is known.")
    if finding.system is None:
        return no_cost("system_missing", "No supply system of this medium feeds the asset.")
    values = {
        **in_force.get((finding.site_id, None), {}),
        **in_force.get((finding.site_id, finding.system_id), {}),
    }
    return cost_now(
        finding.leak_rate_m3_per_s, Medium(finding.system.medium), finding.system.gas_name, values
    )
