"""Read verifications, and what a verdict is made of."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterable
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from findings.kinds.base import Kind
from findings.logbook.queries import history_of
from findings.physics.estimate import Status
from findings.physics.seal_test import Verdict as SeamVerdict
from findings.readings.models import Reading
from findings.register.models import Assessment, Evidence, Finding
from findings.register.queries import repaired_with_unjudged_reading
from findings.register.rules import EvidenceRole
from findings.seals.models import SeamResult
from findings.seals.queries import results_of_readings
from findings.seals.rules import SeamForm
from workorders.orders.models import OrderFinding, WorkOrder
from workorders.verification.models import Verification
from workorders.verification.rules import SeamWalked

HEARD = (
    EvidenceRole.FOUND,
    EvidenceRole.HEARD_AGAIN,
    EvidenceRole.MOVED_HERE,
    EvidenceRole.AFTER_REPAIR,
)

SPOKEN_FOR = (EvidenceRole.FOUND, EvidenceRole.HEARD_AGAIN)


def verifications() -> QuerySet[Verification]:
    """Return all verifications; a door narrows them to the caller's sites."""
    return Verification.objects.select_related("finding", "order", "user")


def verification_of(finding_id: uuid.UUID, reading_id: uuid.UUID) -> Verification | None:
    """Return the judgement of a reading on a finding, if it was judged."""
    return verifications().filter(finding_id=finding_id, reading_id=reading_id).first()


def order_under_repair(finding_id: uuid.UUID) -> WorkOrder | None:
    """Return the open order that a finding is tied to."""
    tied = OrderFinding.objects.filter(finding_id=finding_id, ended_at__isnull=True)
    return WorkOrder.objects.filter(pk__in=tied.values("order_id")).first()


def reading_before(finding: Finding) -> Reading | None:
    """Return the last reading that heard the fault before its repair; a corrected one doesn't count."""
    corrected = Reading.objects.filter(corrects_id=OuterRef("reading_id"))
    # A level alone may have found wear: then whoever took the reading named nothing.
    heard = Q(reading__kind=finding.kind)
    if finding.kind == Kind.MECHANICAL_WEAR:
        heard |= Q(reading__kind="", role__in=SPOKEN_FOR)
    rows = Evidence.objects.filter(
        heard,
        ~Exists(corrected),
        finding=finding,
        role__in=HEARD,
        reading__taken_at__lte=finding.repaired_at,
    ).select_related("reading__instrument", "reading__survey__instrument")
    last = rows.order_by("-reading__taken_at", "-id").first()
    return last.reading if last is not None else None


def reading_after(reading_id: uuid.UUID) -> Reading | None:
    """Return a reading with its instrument."""
    return Reading.objects.select_related("instrument", "survey__instrument").filter(pk=reading_id).first()


def assessed_flow(finding_id: uuid.UUID, reading_id: uuid.UUID) -> float | None:
    """Return the leak rate in m³/s that was assessed from a reading, if one could be; no mere indication."""
    rows = Assessment.objects.filter(finding_id=finding_id, reading_id=reading_id)
    rows = rows.exclude(status=Status.INDICATIVE)
    return rows.order_by("-at", "-id").values_list("leak_rate_m3_per_s", flat=True).first()


def repairer_of(finding_id: uuid.UUID) -> int | None:
    """Return the user who last reported the finding repaired."""
    reported = history_of(finding_id).filter(act="finding.repaired")
    return reported.values_list("user_id", flat=True).last()


def walks_behind(*readings: Reading | None) -> dict[uuid.UUID, SeamWalked]:
    """Return the walk along a seam that made a reading, by the reading, for those that a walk made."""
    found = results_of_readings([reading.pk for reading in readings if reading is not None])
    return {reading_id: _walked(result) for reading_id, result in found.items()}


def _walked(result: SeamResult) -> SeamWalked:
    walk, seam = result.walk, result.walk.seam
    return SeamWalked(
        observed_at=result.finished_at,
        verdict=SeamVerdict(result.verdict),
        smallest_drop_db=result.smallest_drop_db,
        is_ring=seam.shape == SeamForm.RING,
        length_m=seam.length_m,
        criterion=seam.criterion,
        distance_m=walk.distance_m,
        source=seam.source_description,
        instrument=None if walk.instrument_id is None else str(walk.instrument_id),
    )


def takers_of(reading: Reading) -> set[int]:
    """Return the users who stand behind a reading: who walked, and who entered it."""
    entered = history_of(reading.pk).filter(act="reading.taken").values_list("user_id", flat=True)
    return {user_id for user_id in (reading.survey.inspector_id, *entered) if user_id is not None}


def waiting(
    site_ids: Iterable[uuid.UUID] | None, limit: int, *, but: Collection[uuid.UUID] = ()
) -> list[tuple[uuid.UUID, uuid.UUID]]:
    """Return repaired findings, with their newest reading after the repair, that nobody has judged on it.

    Electrical gear is left out: its verdict takes a qualified person's statement. So is what `but` names.
    """
    rows: QuerySet[Any] = repaired_with_unjudged_reading(site_ids)
    judged = Verification.objects.filter(
        finding_id=OuterRef("pk"), reading_id=OuterRef("after_repair_reading_id")
    )
    pairs = rows.exclude(kind=Kind.ELECTRICAL_DISCHARGE).exclude(pk__in=but).filter(~Exists(judged))
    return list(pairs.values_list("pk", "after_repair_reading_id")[:limit])


def count_passed(finding_id: uuid.UUID) -> int:
    """Return how often the finding's repair was proven."""
    return Verification.objects.filter(finding_id=finding_id, verdict="passed").count()
