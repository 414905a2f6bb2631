"""The whole story of one finding or order: readings, judgements, losses, orders and acts."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

from django.db.models import F

from findings.deferrals.models import Deferral
from findings.logbook.models import Entry
from findings.losses.models import LossSegment
from findings.register.models import Assessment, Evidence, Finding
from findings.register.rules import FindingStatus
from workorders.orders.models import OrderFinding, RepairReport, WorkOrder
from workorders.verification.models import Verification

LONGEST = 200


@dataclass(frozen=True, slots=True)
class Story:
    """All facts about one finding, each list in the order of time."""

    evidence: list[Evidence]
    assessments: list[Assessment]
    segments: list[LossSegment]
    orders: list[WorkOrder]
    reports: list[RepairReport]
    verifications: list[Verification]
    deferrals: list[Deferral]
    entries: list[Entry]


def story_of(finding: Finding) -> Story:
    """Return everything recorded about a finding, in eight queries."""
    pk = finding.pk
    held = OrderFinding.objects.filter(finding_id=pk).select_related("order__assignee")
    orders = [row.order for row in held.order_by("order__opened_at", "id")]
    order_ids = [order.pk for order in orders]
    evidence = Evidence.objects.filter(finding_id=pk).select_related("reading__survey", "reading__instrument")
    return Story(
        evidence=list(evidence.order_by("reading__taken_at", "id")[:LONGEST]),
        assessments=list(Assessment.objects.filter(finding_id=pk).order_by("at", "id")[:LONGEST]),
        segments=list(LossSegment.objects.filter(finding_id=pk).order_by("started_at", "recorded_at", "id")),
        orders=orders,
        reports=reports_of(order_ids),
        verifications=list(Verification.objects.filter(finding_id=pk).order_by("at", "id")),
        deferrals=list(
            Deferral.objects.filter(finding_id=pk)
            .select_related("requested_by", "approved_by")
            .order_by("requested_at", "id")
        ),
        entries=entries_about([pk, *order_ids]),
    )


def reports_of(order_ids: list[uuid.UUID]) -> list[RepairReport]:
    """Return the repair reports of orders, oldest first."""
    rows = RepairReport.objects.filter(order_id__in=order_ids).select_related("user")
    return list(rows.order_by("repaired_at", "id"))


def entries_about(subject_ids: list[uuid.UUID]) -> list[Entry]:
    """Return what the logbook holds about these things, oldest first."""
    rows = Entry.objects.filter(subject_id__in=subject_ids).order_by("at", "sequence")
    return list(rows[:LONGEST])


def readings_after_repair(finding_ids: list[uuid.UUID]) -> list[Evidence]:
    """Return the readings that can judge a repair: taken after it and not judged yet, newest first."""
    judged = Verification.objects.filter(finding_id__in=finding_ids, reading__isnull=False)
    rows = Evidence.objects.filter(
        finding_id__in=finding_ids,
        finding__status=FindingStatus.REPAIRED,
        reading__taken_at__gte=F("finding__repaired_at"),
    ).exclude(reading_id__in=judged.values("reading_id"))
    return list(rows.select_related("reading", "finding").order_by("-reading__taken_at", "id"))
