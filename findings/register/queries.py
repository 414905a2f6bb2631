"""Read findings with their evidence and assessments."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db.models import F, OuterRef, QuerySet, Subquery

from findings.kinds.base import Medium
from findings.readings.models import Reading
from findings.register.models import OPEN, Assessment, Evidence, Finding
from findings.register.rules import FindingCost, FindingStatus, LeakRate, finding_cost, without_cost
from findings.supply import queries as supply
from findings.supply.queries import Place
from findings.supply.rules import Known, Station


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


def readings() -> QuerySet[Reading]:
    """Return all readings, for a door that takes the id of one."""
    return Reading.objects.all()


def around(finding: Finding, at: datetime) -> dict[str, Any]:
    """Return what is shown beside one finding: its cost now and its latest assessment, by id."""
    latest = latest_assessment(finding.pk)
    return {
        "costs": {finding.pk: cost_of_one(finding, at)},
        "assessments": {} if latest is None else {finding.pk: latest},
    }


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


def costs_of(rows: Sequence[Finding], at: datetime) -> dict[uuid.UUID, FindingCost]:
    """Return both figures of findings, by id, in two queries; rows of ``findings()`` are expected."""
    known = supply.known_at({finding.site_id for finding in rows}, at)
    feeding = {finding.system.pk: (finding.system, finding.site) for finding in rows if finding.system}
    stations = supply.stations(list(feeding.values()), at)
    return {finding.pk: _cost_of(finding, known, stations) for finding in rows}


def cost_of_one(finding: Finding, at: datetime) -> FindingCost:
    """Return both figures of one finding with their intervals; a row of ``findings()`` is expected."""
    known = supply.known_at([finding.site_id], at)
    stations = supply.stations([(finding.system, finding.site)] if finding.system else [], at)
    return _cost_of(finding, known, stations, with_interval=True)


def _cost_of(
    finding: Finding,
    known: Mapping[Place, Known],
    stations: Mapping[uuid.UUID, Station],
    *,
    with_interval: bool = False,
) -> FindingCost:
    if finding.status not in {FindingStatus.OPEN, FindingStatus.DEFERRED}:
        return without_cost("not_losing", f"A finding that is {finding.status} costs nothing now.")
    if finding.leak_rate_m3_per_s is None:
        return without_cost("leak_rate_missing", "No leak rate is known.")
    if finding.system is None:
        return without_cost("system_missing", "No supply system of this medium feeds the asset.")
    bounds = (finding.leak_rate_low_m3_per_s, finding.leak_rate_high_m3_per_s) if with_interval else ()
    return finding_cost(
        LeakRate(finding.leak_rate_m3_per_s, *bounds),
        Medium(finding.system.medium),
        finding.system.gas_name,
        supply.known_of(finding.system, known),
        stations[finding.system.pk],
    )
