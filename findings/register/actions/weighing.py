"""Weigh the assessments of findings against each other: which one's rate stands, and which are history."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from datetime import datetime

from findings.readings.models import Reading
from findings.register.models import Assessment, Finding
from findings.register.rules import Proof, replaces, standing_in, strength_of


def proof_of(assessment: Assessment | None) -> Proof | None:
    """Return what an assessment weighs; None for none and for one that was refused."""
    if assessment is None or assessment.leak_rate_m3_per_s is None:
        return None
    return Proof(strength_of(assessment.status, assessment.method), assessment.at)


def standing_of(finding: Finding) -> Proof | None:
    """Return the proof that a finding's rate rests on; None where none was made in its present opening.

    A rate stated at a repair's check has no assessment: it weighs by its status, from the opening on.
    """
    if finding.leak_rate_m3_per_s is None:
        return None
    if finding.standing is None:
        return Proof(strength_of(finding.leak_rate_status), finding.opened_at)
    proof = proof_of(finding.standing)
    return proof if proof is not None and proof.at >= finding.opened_at else None


def takes_over(assessment: Assessment | None, standing: Proof | None) -> bool:
    """Tell whether an assessment's rate replaces what stands."""
    proof = proof_of(assessment)
    return proof is not None and replaces(proof, standing)


def own_assessments(
    finding: Finding, *, since: datetime | None = None, without: Collection[uuid.UUID] = ()
) -> list[Assessment]:
    """Return the assessments that hold in a finding's opening, oldest first.

    Left out are those of readings that were corrected, and of the readings named in ``without``.
    """
    rows = Assessment.objects.filter(
        finding=finding, leak_rate_m3_per_s__isnull=False, at__gte=since or finding.opened_at
    ).exclude(reading_id__in=list(without))
    found = list(rows.order_by("at", "recorded_at", "id"))
    readings = [row.reading_id for row in found]
    wrong = set(Reading.objects.filter(corrects_id__in=readings).values_list("corrects_id", flat=True))
    return [row for row in found if row.reading_id not in wrong]


def best_of(rows: Sequence[Assessment], *, until: datetime | None = None) -> Assessment | None:
    """Return the one of these, oldest first, that stands at a moment, or now."""
    known = [row for row in rows if until is None or row.at <= until]
    proofs = [Proof(strength_of(row.status, row.method), row.at) for row in known]
    chosen = standing_in(proofs, known[0].at) if known else None
    return None if chosen is None else known[chosen]
