"""Read findings with their evidence and assessments."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import F, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from findings.kinds.assessing import recompute
from findings.kinds.base import Kind, Medium
from findings.kinds.enclosure_leak import NO_FLOW_FROM_TONE
from findings.kinds.pricing import reference_density_kg_per_m3
from findings.kinds.recomputing import Comparison, Kept, compare
from findings.kinds.release import Amount, Release, release_of
from findings.physics.estimate import Estimate, Status
from findings.readings.models import Reading
from findings.register.models import OPEN, Assessment, Evidence, Finding
from findings.register.rules import (
    OPEN_STATUSES,
    FindingCost,
    FindingStatus,
    LeakRate,
    finding_cost,
    without_cost,
)
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


def shown_assessment(finding: Finding) -> Assessment | None:
    """Return the assessment that a finding's rate rests on, else the last one that was made."""
    return finding.standing or assessments_of(finding.pk).first()


def assessments() -> QuerySet[Assessment]:
    """Return all assessments with their findings; a door narrows them to the caller's sites."""
    return Assessment.objects.select_related("finding")


def shown_assessments() -> QuerySet[Assessment]:
    """Return what open findings rest on; where nothing stands, the last that was made of the finding."""
    last = Assessment.objects.filter(finding_id=OuterRef("pk")).order_by("-at", "-recorded_at", "-id")
    shown = Coalesce(F("standing_id"), Subquery(last.values("pk")[:1]))
    found = Finding.objects.filter(OPEN).annotate(shown_id=shown).values("shown_id")
    return assessments().filter(pk__in=found)


@dataclass(frozen=True, slots=True)
class Recomputation:
    """A kept assessment, what its evidence gives today, and what differs."""

    assessment: Assessment
    today: Estimate
    comparison: Comparison


def recomputed(assessment: Assessment) -> Recomputation:
    """Compute an assessment again from the evidence kept with it; nothing is written."""
    today = recompute(Kind(assessment.finding.kind), assessment.inputs)
    kept = Kept(assessment.leak_rate_m3_per_s, assessment.method, assessment.method_version)
    return Recomputation(assessment, today, compare(kept, today))


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
    """Return what is shown beside one finding: its cost now and the assessment that stands, by id."""
    latest = shown_assessment(finding)
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
    if finding.kind == Kind.ENCLOSURE_LEAK:
        return without_cost(*NO_FLOW_FROM_TONE)
    if finding.leak_rate_status == Status.INDICATIVE:
        text = "The leak rate is an order of magnitude only: no cost is made of it."
        return without_cost("leak_rate_indicative", text)
    if finding.leak_rate_m3_per_s is None:
        return without_cost("leak_rate_missing", "No leak rate is known.")
    if finding.system is None:
        return without_cost("system_missing", "No supply system of this medium feeds the asset.")
    bounds = (finding.leak_rate_low_m3_per_s, finding.leak_rate_high_m3_per_s) if with_interval else ()
    return finding_cost(
        LeakRate(finding.leak_rate_m3_per_s, *bounds),
        supply.supply_state(finding.system, finding.site.atmosphere_pa),
        supply.known_of(finding.system, known),
        stations[finding.system.pk],
    )


def mass_flow_kg_per_s(finding: Finding, rate_m3_per_s: Decimal | None) -> float | None:
    """Return a finding's rate as mass; None without a rate, or where the gas has no data."""
    if rate_m3_per_s is None or not finding.medium:
        return None
    gas_name = "" if finding.system is None else finding.system.gas_name
    density = reference_density_kg_per_m3(Medium(finding.medium), gas_name)
    return None if density is None else float(rate_m3_per_s * density)


def releases_of(finding_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, Release]:
    """Return the releases of the dangerous ones among findings, by id (one query)."""
    rows = findings().filter(pk__in=list(finding_ids), is_safety=True)
    return {row.pk: release for row in rows if (release := release_now(row)) is not None}


def release_now(finding: Finding) -> Release | None:
    """Return what a dangerous leak lets out; None for other findings and for those that ended.

    Rows of ``findings()`` are expected. A rate without an interval is taken as it is.
    """
    if finding.status not in OPEN_STATUSES:
        return None
    value, low, high = (
        finding.leak_rate_m3_per_s,
        finding.leak_rate_low_m3_per_s,
        finding.leak_rate_high_m3_per_s,
    )
    rate = None
    if value is not None:
        ends = (value if low is None else low, value if high is None else high)
        rate = Amount(float(value), *(float(end) for end in ends))
    return release_of(
        Kind(finding.kind),
        Medium(finding.medium) if finding.medium else None,
        gas_name="" if finding.system is None else finding.system.gas_name,
        rate_m3_per_s=rate,
        atmosphere_pa=finding.site.atmosphere_pa,
    )
