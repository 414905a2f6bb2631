"""Say what a leak loses, from one reading and what stands around it, and keep that with all its evidence."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from findings.kinds.assessing import assess, evidence_to_json
from findings.kinds.base import Kind
from findings.kinds.pressure_leak import PressureLeakEvidence
from findings.kinds.registry import kind_of
from findings.physics.estimate import Estimate, Reason
from findings.readings.models import Reading
from findings.register.actions.evidence import Surroundings, evidence_of, sources_of
from findings.register.actions.levels import level_estimate
from findings.register.models import Assessment, Finding
from findings.register.rules import Proof, replaces, strength_of, why_kept

_NO_SYSTEM = Reason(
    "system_missing", "No supply system of this medium feeds the asset; the loss has no price until one does."
)


def assess_reading(
    finding: Finding,
    reading: Reading,
    around: Surroundings,
    *,
    recorded_at: datetime,
    standing: Proof | None = None,
    at: datetime | None = None,
) -> Assessment | None:
    """Compute and keep the leak rate a reading speaks for; None for kinds that aren't computed.

    What can't be computed is kept as a refusal with its reasons, never as zero. An assessment that is
    too weak to replace what is ``standing`` says so. ``at`` is the moment it speaks of where that
    isn't the reading's own: a correction speaks of the moment of the reading that it corrects.
    """
    kind, moment = Kind(finding.kind), at or reading.taken_at
    evidence = evidence_of(kind, reading, around)
    if evidence is None:
        return None
    estimate = assess(kind, evidence)
    if estimate.is_refused and isinstance(evidence, PressureLeakEvidence):
        evidence = replace(evidence, level=level_estimate(reading, around))
        estimate = assess(kind, evidence)
    inputs = {**estimate.inputs, **sources_of(reading, around), "evidence": evidence_to_json(evidence)}
    reasons = list(estimate.reasons)
    if around.system is None and kind_of(kind).loses_gas:
        reasons.append(_NO_SYSTEM)
    reasons += _history_only(estimate, moment, standing)
    return Assessment.objects.create(
        site_id=finding.site_id,
        finding=finding,
        reading=reading,
        method=estimate.method,
        method_version=estimate.method_version,
        status=estimate.status.value,
        leak_rate_m3_per_s=estimate.value,
        u_m3_per_s=estimate.u,
        low_m3_per_s=estimate.low,
        high_m3_per_s=estimate.high,
        inputs=inputs,
        reasons=[reason._asdict() for reason in reasons],
        at=moment,
        recorded_at=recorded_at,
    )


def _history_only(estimate: Estimate, moment: datetime, standing: Proof | None) -> list[Reason]:
    """Return why an estimate doesn't become the finding's rate; nothing where it does or was refused."""
    proof = Proof(strength_of(estimate.status, estimate.method), moment)
    if standing is None or estimate.is_refused or replaces(proof, standing):
        return []
    return [why_kept(proof, standing)]
