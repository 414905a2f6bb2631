"""Read what a supply system loses at a moment, and all that its balance and its what-ifs stand on."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime

from django.db.models import Q, QuerySet

from findings.balance.rules import Measured, OpenLeak, SinceTest, SystemNow, shared_part, spread_of
from findings.kinds.base import Medium
from findings.losses import queries as losses
from findings.losses.models import LossSegment
from findings.losses.rules import SegmentEnd, SegmentStart
from findings.physics.uncertainty import Uncertain
from findings.register.models import Assessment, Finding
from findings.register.rules import FindingStatus
from findings.supply import queries as supply
from findings.supply.models import LeakTest, SupplySystem

NEVER_THERE = (FindingStatus.DISMISSED, FindingStatus.MERGED)


def system_now(system: SupplySystem, at: datetime, test: LeakTest | None = None) -> SystemNow:
    """Return what is known of a system at a moment; a row of ``supply.queries.systems()`` is expected."""
    site = system.site
    return SystemNow(
        medium=Medium(system.medium),
        gas_name=system.gas_name,
        currency=site.currency,
        header_gauge_pa=system.pressure_gauge_pa,
        atmosphere_pa=site.atmosphere_pa,
        temperature_k=system.temperature_k,
        known=supply.known_of(system, supply.known_at([site.pk], at)),
        station=supply.stations([(system, site)], at)[system.pk],
        leaks=open_leaks(system.pk, at),
        without_flow=_without_flow(system.pk, at),
        measured=None
        if test is None
        else Measured(Uncertain(test.flow_m3_per_s, test.u_m3_per_s), test.pressure_gauge_pa, test.taken_at),
    )


def open_leaks(system_id: uuid.UUID, at: datetime) -> tuple[OpenLeak, ...]:
    """Return the findings of a system that lose at a moment, by their segments, the largest first."""
    rows = _live(system_id).filter(Q(ended_at__isnull=True) | Q(ended_at__gt=at), started_at__lte=at)
    segments = list(rows.select_related("finding__asset").order_by("-leak_rate_m3_per_s", "finding_id"))
    named = {segment.assessment_id for segment in segments if segment.assessment_id is not None}
    assessments = Assessment.objects.in_bulk(named)
    return tuple(_leak(segment, assessments) for segment in segments)


def since_test(system_id: uuid.UUID, taken_at: datetime, at: datetime) -> SinceTest:
    """Return how many findings were repaired and how many found between a test and a moment."""
    rows = _live(system_id)
    repaired = rows.filter(end_reason=SegmentEnd.REPAIRED, ended_at__gt=taken_at, ended_at__lte=at)
    found = rows.filter(start_reason=SegmentStart.FOUND, started_at__gt=taken_at, started_at__lte=at)
    return SinceTest(*(part.values("finding_id").distinct().count() for part in (repaired, found)))


def _live(system_id: uuid.UUID) -> QuerySet[LossSegment]:
    return losses.live().filter(system_id=system_id).exclude(finding__status__in=NEVER_THERE)


def _leak(segment: LossSegment, assessments: Mapping[uuid.UUID, Assessment]) -> OpenLeak:
    finding: Finding = segment.finding
    value = float(segment.leak_rate_m3_per_s)
    known = assessments.get(segment.assessment_id) if segment.assessment_id is not None else None
    if known is not None and known.u_m3_per_s is not None and known.leak_rate_m3_per_s:
        # A merged or partly repaired finding's segment may carry another rate than its assessment.
        flow = Uncertain(value, known.u_m3_per_s * value / known.leak_rate_m3_per_s)
    else:
        bounds = (segment.low_m3_per_s, segment.high_m3_per_s)
        flow = Uncertain(value, spread_of(value, *(None if one is None else float(one) for one in bounds)))
    return OpenLeak(
        finding_id=finding.pk,
        number=finding.number,
        asset_id=finding.asset_id,
        asset_code=finding.asset.code,
        area_id=finding.asset.area_id,
        flow=flow,
        shared_relative_u=shared_part(segment.method, {} if known is None else known.inputs, flow),
        is_safety=finding.is_safety,
    )


def _without_flow(system_id: uuid.UUID, at: datetime) -> int:
    rows = Finding.objects.filter(system_id=system_id, leak_rate_m3_per_s__isnull=True, found_at__lte=at)
    return rows.filter(status__in=[FindingStatus.OPEN, FindingStatus.DEFERRED]).count()
