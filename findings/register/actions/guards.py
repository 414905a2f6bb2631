"""Load a finding, ask the table of status changes, and write only what nobody changed meanwhile."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from django.db.models import F

from findings.logbook import actions as logbook
from findings.register.models import Finding
from findings.register.rules import (
    FindingMove,
    FindingStatus,
    StatusChangeRefused,
    check_change,
    reason_is_written,
)
from plantcare.api.actor import Actor
from plantcare.api.etags import stale
from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound, Refusal, constraint_refusals

CLOCK_TOLERANCE = timedelta(minutes=10)
"""How far a stated moment may lie ahead of our clock: phones differ by minutes (our judgement)."""


class FindingUnknown(NotFound):
    """No such finding."""


class StatusChangeNotAllowed(Conflict):
    """The finding's status does not allow the move."""

    code = "status_change_not_allowed"
    title = "The finding's status does not allow this."


class MomentOutOfBounds(Invalid):
    """A stated moment lies before the finding was found or ahead of the clock."""

    code = "moment_out_of_bounds"
    title = "The moment does not fit the finding."


class OpenAtSpot(Conflict):
    """There is an open finding of this kind at this measuring point already."""

    code = "finding_open_at_spot"
    title = "An open finding of this kind stands at this measuring point already."


class ClosedWithoutProof(Conflict):
    """A finding closes by a reading after its repair or by a recorded reason."""

    code = "closed_without_proof"
    title = "A finding closes by a reading taken after its repair, or by an allowed reason in words."


class ClosingReadingNotAfterRepair(Conflict):
    """The reading was taken elsewhere or before the repair."""

    code = "closing_reading_before_repair"
    title = "The reading was not taken at this finding's measuring point after its repair."


class ReasonNotWritten(Invalid):
    """A reason in words is missing or too short to tell anything."""

    code = "reason_not_written"
    title = "Say why, in at least ten characters."


constraint_refusals.update(
    {
        "finding_open_once_per_point_and_kind": OpenAtSpot,
        "finding_closed_with_proof": ClosedWithoutProof,
        "finding_closing_reading_after_repair": ClosingReadingNotAfterRepair,
    }
)


def load(finding_id: uuid.UUID, version: int | None = None) -> Finding:
    """Return the finding. Raises FindingUnknown, and 412 when another version was seen."""
    finding = Finding.objects.select_related("asset", "point").filter(pk=finding_id).first()
    if finding is None:
        raise FindingUnknown
    if version is not None and version != finding.version:
        raise stale(finding.version)
    return finding


def allow(finding: Finding, move: FindingMove) -> None:
    """Ask the table of status changes. Raises StatusChangeNotAllowed."""
    try:
        check_change(FindingStatus(finding.status), move)
    except StatusChangeRefused as refused:
        raise StatusChangeNotAllowed(str(refused), finding_status=finding.status) from refused


def guarded(finding: Finding, **fields: Any) -> Finding:
    """Write fields and the next version if the row is still the one that was read. Raises 412 else."""
    same = Finding.objects.filter(pk=finding.pk, version=finding.version, status=finding.status)
    if not same.update(version=F("version") + 1, **fields):
        current = Finding.objects.filter(pk=finding.pk).values_list("version", flat=True).first()
        raise stale(current or finding.version)
    finding.refresh_from_db()
    return finding


def check_moment(finding: Finding, moment: datetime, at: datetime, member: str) -> None:
    """Refuse a stated moment before the finding was found or ahead of the clock."""
    if moment > at + CLOCK_TOLERANCE:
        raise _out_of_bounds(member, "in_future", "This lies in the future.")
    if moment < finding.found_at:
        raise _out_of_bounds(member, "before_found", f"It was found only at {finding.found_at.isoformat()}.")


def require_reason(text: str, member: str) -> None:
    """Refuse a reason that tells nothing. Raises ReasonNotWritten."""
    if not reason_is_written(text):
        raise ReasonNotWritten(errors=[FieldError(f"/{member}", "too_short", ReasonNotWritten.title)])


def _out_of_bounds(member: str, code: str, text: str) -> Refusal:
    return MomentOutOfBounds(text, errors=[FieldError(f"/{member}", code, text)])


def log(
    finding: Finding,
    *,
    actor: Actor,
    at: datetime,
    act: str,
    reason: str = "",
    detail: Mapping[str, Any] | None = None,
) -> None:
    """Write the one entry of an act on a finding."""
    logbook.write(
        site_id=finding.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="finding",
        subject_id=finding.pk,
        subject_version=finding.version,
        reason=reason,
        detail={"number": finding.number, "status": finding.status, **(detail or {})},
    )
