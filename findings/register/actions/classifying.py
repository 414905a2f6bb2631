"""Give the gas of a finding its name; until then it counts as the most dangerous."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from django.db import transaction

from findings.kinds.base import Kind, Medium
from findings.kinds.registry import kind_of
from findings.losses import actions as losses
from findings.losses.rules import SegmentEnd, SegmentStart
from findings.readings.models import Reading
from findings.register.actions import guards
from findings.register.actions.assessing import assess_reading
from findings.register.actions.evidence import Surroundings, says_something
from findings.register.actions.guards import require_reason
from findings.register.actions.rates import finding_fields, indication, rate_of
from findings.register.actions.weighing import proof_of, takes_over
from findings.register.models import Evidence, Finding
from findings.register.rules import OPEN_STATUSES, EvidenceRole, Proof, class_of
from findings.supply import queries as supply
from plantcare.api.actor import Actor
from plantcare.api.problems import (
    Conflict,
    FieldError,
    Invalid,
    PersonRequired,
)


class MediumKnown(Conflict):
    """Only an unknown medium is classified; a wrong one is dismissed and recorded again."""

    code = "medium_known"
    title = "The medium of this finding is known already."


class MediumRefused(Invalid):
    """The kind of finding is not on this medium."""

    code = "medium_not_of_this_kind"
    title = "This kind of finding is not on this medium."


def classify(
    *,
    actor: Actor,
    at: datetime,
    finding_id: uuid.UUID,
    medium: Medium,
    text: str,
    version: int | None = None,
) -> Finding:
    """Name the medium of a finding that had none; its danger follows from it.

    The readings so far are assessed anew, and the loss counts from the first that speaks of a flow.
    Raises FindingUnknown, MediumKnown, MediumRefused, ReasonNotWritten, and PersonRequired where a
    key would lower a danger.
    """
    with transaction.atomic():
        finding = guards.load(finding_id, version)
        if finding.medium or finding.status not in OPEN_STATUSES:
            raise MediumKnown if finding.medium else guards.StatusChangeNotAllowed
        require_reason(text, "text")
        kind, named = Kind(finding.kind), Medium(medium)
        if kind_of(kind).problems_of_medium(named):
            raise MediumRefused(errors=[FieldError("/medium", MediumRefused.code, MediumRefused.title)])
        danger = class_of(kind, named)
        if finding.is_safety and not danger.safety and (actor.key_id is not None or actor.user_id is None):
            raise PersonRequired
        system = supply.system_feeding(finding.asset_id, named)
        counted = _count(finding, Surroundings(site=finding.site, medium=named, system=system), at)
        finding = guards.guarded(
            finding, medium=named, hazard=danger.hazard, is_safety=danger.safety, system=system, **counted
        )
        detail = {"medium": named, "hazard": danger.hazard, "is_safety": danger.safety}
        guards.log(finding, actor=actor, at=at, act="finding.classified", reason=text, detail=detail)
    return finding


def _count(finding: Finding, around: Surroundings, at: datetime) -> dict[str, Any]:
    """Assess the readings so far with the medium known, and let the loss count; return the last rate."""
    fields: dict[str, Any] = {}
    indicated: dict[str, Any] = {}
    standing: Proof | None = None
    for reading in _readings_of(finding):
        if not says_something(reading):
            continue
        assessment = assess_reading(finding, reading, around, recorded_at=at, standing=standing)
        rate = rate_of(assessment)
        if assessment is None or rate is None or not takes_over(assessment, standing):
            indicated |= indication(finding, assessment)
            continue
        standing = proof_of(assessment)
        if around.system is not None and not fields:
            losses.begin(
                site_id=finding.site_id,
                finding_id=finding.pk,
                system_id=around.system.pk,
                started_at=reading.taken_at,
                rate=rate,
                start_reason=SegmentStart.FOUND,
                recorded_at=at,
            )
        elif around.system is not None:
            losses.change(
                site_id=finding.site_id,
                finding_id=finding.pk,
                system_id=around.system.pk,
                changed_at=reading.taken_at,
                rate=rate,
                recorded_at=at,
            )
        fields = finding_fields(rate, assessment.status)
    if finding.repaired_at is not None and fields:
        losses.end(
            finding_id=finding.pk,
            ended_at=finding.repaired_at,
            end_reason=SegmentEnd.REPAIRED,
            recorded_at=at,
        )
    return fields or indicated


def _readings_of(finding: Finding) -> list[Reading]:
    """Return the readings that found it or heard it again, corrected ones left out, oldest first."""
    roles = (EvidenceRole.FOUND, EvidenceRole.HEARD_AGAIN)
    of_finding = Evidence.objects.filter(finding=finding, role__in=roles).values("reading_id")
    heard = Reading.objects.filter(pk__in=of_finding, taken_at__gte=finding.found_at)
    corrected = Reading.objects.filter(corrects_id__in=of_finding).values("corrects_id")
    return list(heard.exclude(pk__in=corrected).order_by("taken_at", "id"))
