"""Let a finding wait, and end the waiting. Called inside the acts on deferrals, which check who may."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from findings.register.actions import guards
from findings.register.models import Finding
from findings.register.rules import FindingMove, FindingStatus
from plantcare.api.actor import Actor


def defer(
    *, actor: Actor, at: datetime, finding_id: uuid.UUID, deferral_id: uuid.UUID, until_at: datetime
) -> Finding:
    """Mark a finding as deferred; its loss goes on. Raises FindingUnknown, StatusChangeNotAllowed."""
    with transaction.atomic():
        finding = guards.load(finding_id)
        guards.allow(finding, FindingMove.DEFER)
        finding = guards.guarded(finding, status=FindingStatus.DEFERRED)
        detail = {"deferral_id": deferral_id, "until_at": until_at}
        guards.log(finding, actor=actor, at=at, act="finding.deferred", detail=detail)
    return finding


def end_deferral(
    *, actor: Actor, at: datetime, finding_id: uuid.UUID, deferral_id: uuid.UUID, reason: str = ""
) -> Finding:
    """Put a deferred finding back on the list. Raises FindingUnknown, StatusChangeNotAllowed."""
    with transaction.atomic():
        finding = guards.load(finding_id)
        guards.allow(finding, FindingMove.END_DEFERRAL)
        finding = guards.guarded(finding, status=FindingStatus.OPEN)
        detail = {"deferral_id": deferral_id}
        guards.log(finding, actor=actor, at=at, act="finding.deferral_ended", reason=reason, detail=detail)
    return finding
