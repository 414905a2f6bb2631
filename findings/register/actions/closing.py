"""A finding closes by a recorded reason, or opens again because it is heard again."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from findings.losses import actions as losses
from findings.losses.rules import SegmentEnd, SegmentStart
from findings.readings.models import Reading
from findings.register.actions import guards
from findings.register.actions.guards import require_reason
from findings.register.actions.hearing import reopening
from findings.register.actions.rates import fields_of, finding_fields, rate_of
from findings.register.actions.repairs import ReadingUnknown
from findings.register.models import Assessment, Evidence, Finding
from findings.register.rules import (
    NO_SAVING_REASONS,
    ClosureReason,
    EvidenceRole,
    FindingMove,
    FindingStatus,
)
from plantcare.api.actor import Actor
from plantcare.api.problems import FieldError

_LOSS_ENDS = {
    ClosureReason.VERIFIED_BY_OTHER_MEANS: SegmentEnd.CLOSED_BY_REASON,
    ClosureReason.ASSET_DECOMMISSIONED: SegmentEnd.DECOMMISSIONED,
    ClosureReason.BRANCH_ISOLATED: SegmentEnd.ISOLATED,
}


def close_by_reason(
    *,
    actor: Actor,
    at: datetime,
    finding_id: uuid.UUID,
    closure_reason: ClosureReason,
    closure_text: str,
    ended_at: datetime | None = None,
    version: int | None = None,
) -> Finding:
    """Close a finding without a reading, by an allowed reason in words.

    The loss ends at ``ended_at``, else when the asset went out of service, else now; only a repair
    that was verified by other means counts as one. Raises FindingUnknown, StatusChangeNotAllowed,
    ReasonNotWritten, MomentOutOfBounds.
    """
    with transaction.atomic():
        finding = guards.load(finding_id, version)
        guards.allow(finding, FindingMove.CLOSE_BY_REASON)
        require_reason(closure_text, "closure_text")
        reason = ClosureReason(closure_reason)
        loss_ended_at = _loss_end(finding, reason, ended_at, at)
        was_repaired = finding.status == FindingStatus.REPAIRED
        finding = guards.guarded(
            finding,
            status=FindingStatus.CLOSED,
            closed_at=at,
            closure_reason=reason,
            closure_text=closure_text.strip(),
            closing_reading_id=None,
        )
        _end_by_reason(finding, reason, loss_ended_at, was_repaired=was_repaired, at=at)
        detail = {"closure_reason": reason, "loss_ended_at": loss_ended_at}
        guards.log(
            finding,
            actor=actor,
            at=at,
            act="finding.closed_by_reason",
            reason=finding.closure_text,
            detail=detail,
        )
    return finding


def _end_by_reason(
    finding: Finding, reason: ClosureReason, ended_at: datetime, *, was_repaired: bool, at: datetime
) -> None:
    if not was_repaired:
        losses.end(
            finding_id=finding.pk,
            ended_at=ended_at,
            end_reason=_LOSS_ENDS[reason],
            recorded_at=at,
            confirmed=True,
        )
    elif reason in NO_SAVING_REASONS:
        losses.end_without_saving(finding_id=finding.pk, end_reason=_LOSS_ENDS[reason], recorded_at=at)
    else:
        losses.confirm_end(finding_id=finding.pk, at=at)


def reopen(
    *, actor: Actor, at: datetime, finding_id: uuid.UUID, reading_id: uuid.UUID, version: int | None = None
) -> Finding:
    """Open a closed finding again on a reading of its point and kind taken after what closed it.

    The loss counts from that reading, if a rate was assessed from it for this finding. Raises
    FindingUnknown, StatusChangeNotAllowed, ReadingUnknown, OpenAtSpot.
    """
    with transaction.atomic():
        finding = guards.load(finding_id, version)
        guards.allow(finding, FindingMove.REOPEN)
        reading = _reading_after_closure(finding, reading_id)
        assessed = Assessment.objects.filter(finding=finding, reading=reading).order_by("-at").first()
        rate = rate_of(assessed)
        finding = guards.guarded(
            finding,
            **reopening(finding, reading.taken_at),
            last_heard_at=max(finding.last_heard_at, reading.taken_at),
            **(finding_fields(None, "") if assessed is None else fields_of(assessed)),
        )
        Evidence.objects.get_or_create(
            finding=finding,
            reading=reading,
            defaults={"site_id": finding.site_id, "role": EvidenceRole.HEARD_AGAIN, "recorded_at": at},
        )
        if rate is not None and finding.system_id is not None:
            losses.begin(
                site_id=finding.site_id,
                finding_id=finding.pk,
                system_id=finding.system_id,
                started_at=reading.taken_at,
                rate=rate,
                start_reason=SegmentStart.REOPENED,
                recorded_at=at,
            )
        detail = {"reading_id": reading.pk, "taken_at": reading.taken_at}
        guards.log(finding, actor=actor, at=at, act="finding.reopened", detail=detail)
    return finding


def _reading_after_closure(finding: Finding, reading_id: uuid.UUID) -> Reading:
    reading = Reading.objects.filter(
        pk=reading_id, site_id=finding.site_id, point_id=finding.point_id, kind=finding.kind
    ).first()
    ended_at = finding.repaired_at or finding.closed_at
    if reading is None or (ended_at is not None and reading.taken_at < ended_at):
        text = "Name a reading of this point and kind, taken after the finding ended."
        raise ReadingUnknown(text, errors=[FieldError("/reading_id", "unknown_reference", text)])
    return reading


def _loss_end(finding: Finding, reason: ClosureReason, ended_at: datetime | None, at: datetime) -> datetime:
    if ended_at is not None:
        guards.check_moment(finding, ended_at, at, "ended_at")
        return ended_at
    out_of_service = finding.asset.decommissioned_at
    if reason is ClosureReason.ASSET_DECOMMISSIONED and out_of_service is not None:
        return max(finding.found_at, out_of_service)
    return at
