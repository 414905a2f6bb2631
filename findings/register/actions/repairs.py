"""A repair is reported, rejected, or proven by a reading."""

from __future__ import annotations

import uuid
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from findings.losses import actions as losses
from findings.losses.rules import SegmentEnd, SegmentStart
from findings.physics.estimate import Status
from findings.readings.models import Reading
from findings.register.actions import guards
from findings.register.actions.rates import QUANTUM, finding_fields, rate_of
from findings.register.actions.standing import condition_fields
from findings.register.models import Assessment, Finding
from findings.register.rules import FindingMove, FindingStatus
from plantcare.api.actor import Actor
from plantcare.api.problems import FieldError, Invalid


class ReadingUnknown(Invalid):
    """The reading is none of this finding's measuring point."""

    code = "unknown_reference"
    title = "The reading is none of this finding's measuring point."


class ResidualOutOfRange(Invalid):
    """A residual leak rate is a number of m3/s, zero or more."""

    code = "residual_out_of_range"
    title = "The residual leak rate is not a usable number."


def report_repaired(
    *, actor: Actor, at: datetime, finding_id: uuid.UUID, repaired_at: datetime, version: int | None = None
) -> Finding:
    """Say that a finding was repaired; its loss ends there provisionally.

    Raises FindingUnknown, StatusChangeNotAllowed, MomentOutOfBounds, or 412 for an older version.
    """
    with transaction.atomic():
        finding = guards.load(finding_id, version)
        guards.allow(finding, FindingMove.REPORT_REPAIR)
        guards.check_moment(finding, repaired_at, at, "repaired_at")
        finding = guards.guarded(finding, status=FindingStatus.REPAIRED, repaired_at=repaired_at)
        losses.end(
            finding_id=finding.pk,
            ended_at=repaired_at,
            end_reason=SegmentEnd.REPAIRED,
            recorded_at=at,
        )
        detail = {"repaired_at": repaired_at}
        guards.log(finding, actor=actor, at=at, act="finding.repaired", detail=detail)
    return finding


def reject_repair(
    *,
    actor: Actor,
    at: datetime,
    finding_id: uuid.UUID,
    reading_id: uuid.UUID,
    residual: Decimal | None = None,
    partial: bool = False,
    version: int | None = None,
) -> Finding:
    """Say that a repair did not hold: the loss runs on from the repair time at the residual or old rate.

    ``residual`` is m3/s at 1 bar, 20 °C; without it the reading's own assessment counts, and without
    that the rate before the repair. ``partial`` keeps the proven part of the repair as a saving.
    Raises FindingUnknown, StatusChangeNotAllowed, ClosingReadingNotAfterRepair, ReadingUnknown.
    """
    with transaction.atomic():
        finding = guards.load(finding_id, version)
        guards.allow(finding, FindingMove.REJECT_REPAIR)
        reading = reading_after_repair(finding, reading_id)
        repaired_at = repair_of(finding)
        rate, rate_status = _residual_rate(finding, reading, residual)
        finding = guards.guarded(
            finding,
            status=FindingStatus.OPEN,
            repaired_at=None,
            opened_at=repaired_at,
            last_heard_at=max(finding.last_heard_at, reading.taken_at),
            **condition_fields(finding, repaired_at),
            **({} if rate is None else finding_fields(rate, rate_status)),
        )
        _run_on(finding, repaired_at, rate, partial=partial, at=at)
        detail = {
            "reading_id": reading.pk,
            "repaired_at": repaired_at,
            "partial": partial,
            "residual_m3_per_s": None if rate is None else rate.value,
        }
        guards.log(finding, actor=actor, at=at, act="finding.repair_rejected", detail=detail)
    return finding


def _run_on(
    finding: Finding, repaired_at: datetime, rate: losses.Rate | None, *, partial: bool, at: datetime
) -> None:
    """Let the loss run on from the repair; a partial repair keeps its proven drop."""
    if partial:
        losses.confirm_end(finding_id=finding.pk, at=at)
    start_reason = SegmentStart.PARTLY_REPAIRED if partial else SegmentStart.REPAIR_FAILED
    resumed = losses.resume(
        finding_id=finding.pk, from_at=repaired_at, rate=rate, start_reason=start_reason, recorded_at=at
    )
    if resumed is None and rate is not None and finding.system_id is not None:
        losses.begin(
            site_id=finding.site_id,
            finding_id=finding.pk,
            system_id=finding.system_id,
            started_at=repaired_at,
            rate=rate,
            start_reason=start_reason,
            recorded_at=at,
        )


def close_by_reading(
    *, actor: Actor, at: datetime, finding_id: uuid.UUID, reading_id: uuid.UUID, version: int | None = None
) -> Finding:
    """Close a repaired finding by a reading taken at its point after the repair.

    Raises FindingUnknown, StatusChangeNotAllowed, ReadingUnknown, ClosingReadingNotAfterRepair.
    """
    with transaction.atomic():
        finding = guards.load(finding_id, version)
        guards.allow(finding, FindingMove.CLOSE)
        reading = reading_after_repair(finding, reading_id)
        finding = guards.guarded(
            finding,
            status=FindingStatus.CLOSED,
            closed_at=at,
            closing_reading_id=reading.pk,
            closure_reason="",
            closure_text="",
        )
        losses.confirm_end(finding_id=finding.pk, at=at)
        detail = {"reading_id": reading.pk, "repaired_at": finding.repaired_at}
        guards.log(finding, actor=actor, at=at, act="finding.closed", detail=detail)
    return finding


def repair_of(finding: Finding) -> datetime:
    """Return when a repaired finding was repaired."""
    if finding.repaired_at is None:  # the table and the database both forbid it
        raise guards.StatusChangeNotAllowed
    return finding.repaired_at


def reading_after_repair(finding: Finding, reading_id: uuid.UUID) -> Reading:
    """Return a reading of the finding's own point after its repair. Raises ReadingUnknown and its kin."""
    reading = Reading.objects.filter(pk=reading_id, site_id=finding.site_id).first()
    if reading is None or reading.point_id != finding.point_id:
        raise ReadingUnknown(errors=[FieldError("/reading_id", "unknown_reference", ReadingUnknown.title)])
    if reading.taken_at < repair_of(finding):
        taken, repaired = reading.taken_at.isoformat(), repair_of(finding).isoformat()
        text = f"The reading is of {taken}, the repair of {repaired}."
        raise guards.ClosingReadingNotAfterRepair(text)
    return reading


def _residual_rate(
    finding: Finding, reading: Reading, residual: Decimal | None
) -> tuple[losses.Rate | None, str]:
    """Return the rate that is left, with its status: the reading's own, or what the verdict states."""
    assessed = Assessment.objects.filter(finding_id=finding.pk, reading_id=reading.pk).order_by("-at").first()
    own, status = rate_of(assessed), "" if assessed is None else assessed.status
    if residual is None:
        return own, status
    if not residual.is_finite() or not 0 <= residual < 1000:
        raise ResidualOutOfRange
    value = residual.quantize(QUANTUM)
    if own is not None and own.value == value:
        return own, status
    return losses.Rate(value=value, method="residual", method_version="1"), Status.ESTIMATED
