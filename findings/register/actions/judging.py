"""Judge findings: no fault after all, or one and the same fault; and take such judgements back."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction
from django.db.models import Min

from findings.logbook import actions as logbook
from findings.logbook import queries as logbook_queries
from findings.logbook.actions import Act
from findings.losses import actions as losses
from findings.losses import queries as loss_queries
from findings.losses.rules import SegmentEnd, SegmentStart
from findings.register.actions import guards
from findings.register.actions.guards import require_reason
from findings.register.actions.rates import finding_fields, rate_of
from findings.register.actions.weighing import best_of, own_assessments, standing_of
from findings.register.models import Assessment, Evidence, Finding
from findings.register.rules import (
    OPEN_STATUSES,
    DismissReason,
    EvidenceRole,
    FindingMove,
    FindingStatus,
)
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid

DISMISSED, MERGED = "dismissed", "merged"
_RATE_FIELDS = (
    "leak_rate_m3_per_s",
    "leak_rate_low_m3_per_s",
    "leak_rate_high_m3_per_s",
    "leak_rate_status",
    "standing_id",
)


class MergeRefused(Conflict):
    """The two findings can't be one."""

    code = "merge_refused"
    title = "These two findings can't be one."


class MergeLowersSafety(MergeRefused):
    """A safety finding never disappears in a harmless one."""

    code = "merge_lowers_safety"
    title = "A safety finding is not merged into one that isn't; merge the other way round."


class SurvivorUnknown(Invalid):
    """The survivor names nothing at this site."""

    code = "unknown_reference"
    title = "The survivor names nothing here."


def dismiss(
    *,
    actor: Actor,
    at: datetime,
    finding_id: uuid.UUID,
    dismiss_reason: DismissReason,
    text: str,
    version: int | None = None,
) -> Finding:
    """Say that a finding was never a fault; its money is taken back by a dated correction.

    Raises FindingUnknown, StatusChangeNotAllowed, ReasonNotWritten, or 412 for an older version.
    """
    with transaction.atomic():
        finding = guards.load(finding_id, version)
        guards.allow(finding, FindingMove.DISMISS)
        require_reason(text, "text")
        reason = DismissReason(dismiss_reason)
        finding = guards.guarded(finding, status=FindingStatus.DISMISSED, dismiss_reason=reason)
        losses.void_after(finding_id=finding.pk, reason=DISMISSED, at=at)
        detail = {"dismiss_reason": reason}
        guards.log(finding, actor=actor, at=at, act="finding.dismissed", reason=text, detail=detail)
    return finding


def reinstate(
    *, actor: Actor, at: datetime, finding_id: uuid.UUID, text: str, version: int | None = None
) -> Finding:
    """Take a dismissal back; the loss counts again as it did.

    Raises FindingUnknown, StatusChangeNotAllowed, ReasonNotWritten, OpenAtSpot.
    """
    with transaction.atomic():
        finding = guards.load(finding_id, version)
        guards.allow(finding, FindingMove.REINSTATE)
        require_reason(text, "text")
        finding = guards.guarded(finding, status=FindingStatus.OPEN, dismiss_reason="")
        losses.restore(
            finding_id=finding.pk,
            void_reason=DISMISSED,
            recorded_at=at,
            start_reason=SegmentStart.CORRECTED,
        )
        guards.log(finding, actor=actor, at=at, act="finding.reinstated", reason=text)
    return finding


def merge(
    *,
    actor: Actor,
    at: datetime,
    duplicate_id: uuid.UUID,
    survivor_id: uuid.UUID,
    reason: str,
    version: int | None = None,
) -> Finding:
    """Make two findings one and return the duplicate; the survivor counts from the earlier of the two.

    The duplicate keeps its history with no money. Raises FindingUnknown, SurvivorUnknown,
    StatusChangeNotAllowed, MergeRefused, MergeLowersSafety, ReasonNotWritten.
    """
    with transaction.atomic():
        duplicate = guards.load(duplicate_id, version)
        guards.allow(duplicate, FindingMove.MERGE)
        require_reason(reason, "reason")
        survivor = _survivor_of(duplicate, survivor_id)
        was_found_at, better = survivor.found_at, _is_better(duplicate, survivor)
        duplicate = guards.guarded(duplicate, status=FindingStatus.MERGED, merged_into_id=survivor.pk)
        survivor = guards.guarded(survivor, **_taken_over(duplicate, survivor, better=better))
        _move_evidence(duplicate, survivor, at)
        if loss_queries.segments_of(survivor.pk).exists():
            if duplicate.found_at < was_found_at:
                losses.extend_back(finding_id=survivor.pk, from_at=duplicate.found_at, recorded_at=at)
            if better:
                _let_hold(duplicate, survivor, at)
        else:
            losses.adopt(finding_id=survivor.pk, from_finding_id=duplicate.pk, recorded_at=at)
            _end_if_repaired(survivor, at)
        losses.void_after(finding_id=duplicate.pk, reason=MERGED, at=at)
        _log_pair(
            (duplicate, "finding.merged", {"survivor_id": survivor.pk}),
            (survivor, "finding.took_over", {"duplicate_id": duplicate.pk}),
            actor=actor,
            at=at,
            reason=reason,
        )
    return duplicate


def separate(
    *, actor: Actor, at: datetime, finding_id: uuid.UUID, text: str, version: int | None = None
) -> Finding:
    """Take a merge back: the duplicate stands and costs on its own again, as it did before.

    Raises FindingUnknown, StatusChangeNotAllowed, ReasonNotWritten, OpenAtSpot.
    """
    with transaction.atomic():
        finding = guards.load(finding_id, version)
        guards.allow(finding, FindingMove.SEPARATE)
        require_reason(text, "text")
        survivor = guards.load(finding.merged_into_id or finding.pk)
        merges = logbook_queries.history_of(finding.pk).filter(act="finding.merged")
        merged_at = merges.order_by("-sequence").values_list("at", flat=True)[0]
        finding = guards.guarded(finding, status=FindingStatus.OPEN, merged_into_id=None)
        own = _own_before(survivor, merged_at)
        survivor = guards.guarded(survivor, **_given_back(survivor, finding, own))
        losses.void_merged(finding_id=survivor.pk, merged_at=merged_at, at=at)
        own_rate = rate_of(own)
        if own_rate is not None:
            losses.give_back(
                finding_id=survivor.pk,
                assessment_ids=_assessments_of(finding),
                rate=own_rate,
                recorded_at=at,
            )
        losses.restore(
            finding_id=finding.pk,
            void_reason=MERGED,
            recorded_at=at,
            start_reason=SegmentStart.SEPARATED,
        )
        _log_pair(
            (finding, "finding.separated", {"survivor_id": survivor.pk}),
            (survivor, "finding.gave_back", {"duplicate_id": finding.pk}),
            actor=actor,
            at=at,
            reason=text,
        )
    return finding


def _survivor_of(duplicate: Finding, survivor_id: uuid.UUID) -> Finding:
    survivor = Finding.objects.filter(pk=survivor_id, site_id=duplicate.site_id).first()
    if survivor is None:
        raise SurvivorUnknown(
            errors=[FieldError("/survivor_id", SurvivorUnknown.code, SurvivorUnknown.title)]
        )
    if survivor.pk == duplicate.pk:
        text = "A finding isn't its own duplicate."
        raise MergeRefused(text)
    if survivor.status not in OPEN_STATUSES:
        text = f"The survivor is {survivor.status}; it has to be open."
        raise MergeRefused(text, survivor_status=survivor.status)
    if survivor.kind != duplicate.kind:
        text = "They are of different kinds."
        raise MergeRefused(text)
    if duplicate.is_safety and not survivor.is_safety:
        raise MergeLowersSafety
    return survivor


def _is_better(duplicate: Finding, survivor: Finding) -> bool:
    """Tell whether the duplicate's rate is the better known one, of a time when the survivor leaked."""
    proof, own = standing_of(duplicate), standing_of(survivor)
    if proof is None or duplicate.standing is None:
        return False
    if survivor.repaired_at is not None and proof.at >= survivor.repaired_at:
        return False
    return own is None or proof.strength > own.strength


def _taken_over(duplicate: Finding, survivor: Finding, *, better: bool) -> dict[str, object]:
    """Return what a survivor takes: the earlier find, and a rate where it has none or a weaker one."""
    fields: dict[str, object] = {
        "found_at": min(survivor.found_at, duplicate.found_at),
        "last_heard_at": max(survivor.last_heard_at, duplicate.last_heard_at),
    }
    if survivor.opened_at == survivor.found_at:
        fields["opened_at"] = min(survivor.opened_at, duplicate.opened_at)
    if better or (survivor.leak_rate_m3_per_s is None and duplicate.leak_rate_m3_per_s is not None):
        for name in _RATE_FIELDS:
            fields[name] = getattr(duplicate, name)
    return fields


def _let_hold(duplicate: Finding, survivor: Finding, at: datetime) -> None:
    """Let the duplicate's better known rate hold in the survivor's present opening."""
    rate = rate_of(duplicate.standing)
    if rate is not None and duplicate.standing is not None:
        losses.rerate(
            finding_id=survivor.pk,
            from_at=max(duplicate.standing.at, survivor.opened_at),
            rate=rate,
            reason="better evidence by a merge",
            recorded_at=at,
        )


def _own_before(survivor: Finding, merged_at: datetime) -> Assessment | None:
    """Return the assessment that stood for the survivor by its own readings before the merge."""
    own = own_assessments(survivor, since=_own_found_at(survivor))
    return best_of([row for row in own if row.recorded_at <= merged_at])


def _given_back(survivor: Finding, duplicate: Finding, own: Assessment | None) -> dict[str, object]:
    """Return what a survivor is without the duplicate: its own find, and its own rate again."""
    found_at = _own_found_at(survivor)
    fields: dict[str, object] = {"found_at": found_at}
    if survivor.opened_at == survivor.found_at:
        fields["opened_at"] = found_at
    if survivor.standing is not None and survivor.standing.finding_id == duplicate.pk:
        fields |= finding_fields(rate_of(own), "" if own is None else own.status)
    return fields


def _assessments_of(finding: Finding) -> list[uuid.UUID]:
    return list(Assessment.objects.filter(finding=finding).values_list("pk", flat=True))


def _end_if_repaired(survivor: Finding, at: datetime) -> None:
    if survivor.repaired_at is not None:
        losses.end(
            finding_id=survivor.pk,
            ended_at=survivor.repaired_at,
            end_reason=SegmentEnd.REPAIRED,
            recorded_at=at,
        )


def _move_evidence(duplicate: Finding, survivor: Finding, at: datetime) -> None:
    has = set(Evidence.objects.filter(finding=survivor).values_list("reading_id", flat=True))
    moving = Evidence.objects.filter(finding=duplicate).exclude(reading_id__in=has)
    Evidence.objects.bulk_create(
        Evidence(
            site_id=survivor.site_id,
            finding=survivor,
            reading_id=reading_id,
            role=EvidenceRole.MOVED_HERE,
            recorded_at=at,
        )
        for reading_id in moving.order_by("recorded_at", "id").values_list("reading_id", flat=True)
    )


def _own_found_at(survivor: Finding) -> datetime:
    """Return when a survivor was found by its own readings and by those still merged into it."""
    own = Evidence.objects.filter(finding=survivor, role=EvidenceRole.FOUND)
    others = Finding.objects.filter(merged_into=survivor)
    moments = [
        own.aggregate(first=Min("reading__taken_at"))["first"],
        others.aggregate(first=Min("found_at"))["first"],
    ]
    return min((moment for moment in moments if moment is not None), default=survivor.found_at)


def _log_pair(*pair: tuple[Finding, str, dict[str, object]], actor: Actor, at: datetime, reason: str) -> None:
    """Write one entry for each of the two findings that an act changed."""
    acts = [
        Act(
            act=act,
            subject_kind="finding",
            subject_id=finding.pk,
            subject_version=finding.version,
            reason=reason,
            detail={"number": finding.number, "status": finding.status, **detail},
        )
        for finding, act, detail in pair
    ]
    logbook.write_many(site_id=pair[0][0].site_id, actor=actor, at=at, acts=acts)
