"""A correction says that an earlier reading was wrong: it counts back to the event that reading set."""

from __future__ import annotations

from typing import Any

from findings.losses import actions as losses
from findings.losses import queries as loss_queries
from findings.losses.rules import SegmentStart
from findings.readings.models import Reading
from findings.register.actions import guards
from findings.register.actions.assessing import assess_reading
from findings.register.actions.casefile import Casefile, Draft, Outcome
from findings.register.actions.hearing import act_on, attach, begin_loss, known_medium
from findings.register.actions.rates import finding_fields, rate_of
from findings.register.models import Assessment, Finding
from findings.register.rules import OPEN_STATUSES, EvidenceRole
from plantcare.api.problems import Conflict


class CorrectionWithoutFlow(Conflict):
    """The corrected reading set a loss; a correction that knows none can't replace it."""

    code = "correction_without_flow"
    title = "The corrected reading set a leak rate; its correction has to give one, or dismiss the finding."


def correct(
    casefile: Casefile, reading: Reading, wrong: Reading, draft: Draft
) -> tuple[Finding | None, Outcome]:
    """Let a reading replace a wrong one in every finding that the wrong one speaks for.

    Raises CorrectionWithoutFlow.
    """
    concerned: Finding | None = None
    for finding, role in casefile.of_reading(wrong.pk):
        attach(finding, reading, role, casefile)
        fields = _rate_fields(casefile, finding, wrong, reading, role)
        if role is not EvidenceRole.AFTER_REPAIR:
            fields |= {
                name: getattr(reading, name)
                for name in ("level_db", "severity")
                if getattr(finding, name) == getattr(wrong, name)
            }
        changed = guards.guarded(finding, **fields)
        casefile.keep(changed)
        draft.acts.append(act_on(changed, reading, "finding.corrected"))
        concerned = concerned or changed
    return concerned, "corrected"


def _rate_fields(
    casefile: Casefile, finding: Finding, wrong: Reading, reading: Reading, role: EvidenceRole
) -> dict[str, Any]:
    of_wrong = (
        Assessment.objects.filter(finding=finding, reading=wrong).order_by("-recorded_at", "-id").first()
    )
    around = casefile.around(finding.asset_id, known_medium(finding))
    assessment = assess_reading(finding, reading, around, recorded_at=casefile.at)
    rate, was = rate_of(assessment), rate_of(of_wrong)
    if was is not None and rate is None:
        raise CorrectionWithoutFlow
    if assessment is None or rate is None or role is EvidenceRole.AFTER_REPAIR:
        return {}
    replaced = 0
    if of_wrong is not None:
        replaced = losses.correct(assessment_id=of_wrong.pk, rate=rate, recorded_at=casefile.at)
    if not replaced and role is EvidenceRole.FOUND and _has_no_loss_yet(finding):
        begin_loss(casefile, finding, wrong, assessment, SegmentStart.CORRECTED)
    if was is not None and finding.leak_rate_m3_per_s != was.value:
        return {}
    return finding_fields(rate, assessment.status)


def _has_no_loss_yet(finding: Finding) -> bool:
    return finding.status in OPEN_STATUSES and not loss_queries.segments_of(finding.pk).exists()
