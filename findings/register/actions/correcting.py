"""A correction says that an earlier reading was wrong: it counts back to the event that reading set."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import Q

from findings.losses import actions as losses
from findings.losses import queries as loss_queries
from findings.losses.rules import SegmentEnd, SegmentStart
from findings.readings.models import Reading
from findings.register.actions import guards
from findings.register.actions.assessing import assess_reading
from findings.register.actions.casefile import Casefile, Draft, Outcome
from findings.register.actions.hearing import act_on, attach, begin_loss, known_medium
from findings.register.actions.rates import fields_of, finding_fields, rate_of
from findings.register.actions.weighing import best_of, own_assessments, proof_of, takes_over
from findings.register.models import Assessment, Finding
from findings.register.rules import EvidenceRole, FindingStatus
from plantcare.api.problems import Conflict

LOSING = frozenset({FindingStatus.OPEN, FindingStatus.DEFERRED})


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
    of_wrong = _assessment_of(finding, wrong)
    moment = wrong.taken_at if of_wrong is None else of_wrong.at
    others = own_assessments(finding, without=(wrong.pk, reading.pk))
    rival = best_of(others, until=moment)
    assessment = assess_reading(
        finding,
        reading,
        casefile.around(finding.asset_id, known_medium(finding)),
        recorded_at=casefile.at,
        standing=proof_of(rival),
        at=moment,
    )
    rate, was = rate_of(assessment), rate_of(of_wrong)
    if was is not None and rate is None:
        raise CorrectionWithoutFlow
    if assessment is None or role is EvidenceRole.AFTER_REPAIR:
        return {}
    if rate is None:
        is_last = wrong.taken_at >= finding.last_heard_at and finding.leak_rate_m3_per_s is None
        return fields_of(assessment) if is_last else {}
    holds = takes_over(assessment, proof_of(rival))
    heir = assessment if holds or rival is None else rival
    if of_wrong is not None and of_wrong.finding_id != finding.pk:
        # The wrong reading came here by a merge: its own finding's turn has set the money right.
        return finding_fields(rate, assessment.status)
    if of_wrong is None or not _replaced(casefile, of_wrong, heir):
        if not holds or not _is_the_last_word(finding, wrong, role):
            return {}
        _add(casefile, finding, wrong, assessment)
    else:
        heir = _followed(casefile, finding, heir, others)
    if was is not None and of_wrong is not None and finding.standing_id != of_wrong.pk:
        return {}
    return finding_fields(rate_of(heir), heir.status)


def _assessment_of(finding: Finding, wrong: Reading) -> Assessment | None:
    """Return what was made of the wrong reading: for this finding, or for one merged into it."""
    mine = Q(finding=finding) | Q(pk=finding.standing_id)
    return Assessment.objects.filter(mine, reading=wrong).order_by("-recorded_at", "-id").first()


def _replaced(casefile: Casefile, of_wrong: Assessment, heir: Assessment) -> bool:
    """Let the heir's rate replace the wrong one wherever it set a loss."""
    rate = rate_of(heir)
    if rate is None:
        return False
    return losses.correct(assessment_id=of_wrong.pk, rate=rate, recorded_at=casefile.at) > 0


def _followed(
    casefile: Casefile, finding: Finding, heir: Assessment, others: Sequence[Assessment]
) -> Assessment:
    """Let later evidence hold that only the wrong reading had kept from holding; return the last of it."""
    running = loss_queries.running(finding.pk)
    if running is None or running.assessment_id != heir.pk:
        return heir
    for later in others:
        rate = rate_of(later)
        if rate is None or later.at <= heir.at or not takes_over(later, proof_of(heir)):
            continue
        losses.change(
            site_id=finding.site_id,
            finding_id=finding.pk,
            system_id=running.system_id,
            changed_at=later.at,
            rate=rate,
            recorded_at=casefile.at,
        )
        heir = later
    return heir


def _is_the_last_word(finding: Finding, wrong: Reading, role: EvidenceRole) -> bool:
    """Tell whether nothing later is known, so that a rate forgotten then still holds now."""
    if finding.status == FindingStatus.REPAIRED:
        return role is EvidenceRole.FOUND and not loss_queries.segments_of(finding.pk).exists()
    if finding.status not in LOSING:
        return False
    heard = role in {EvidenceRole.FOUND, EvidenceRole.HEARD_AGAIN}
    return heard and (wrong.taken_at >= finding.last_heard_at or finding.leak_rate_m3_per_s is None)


def _add(casefile: Casefile, finding: Finding, wrong: Reading, assessment: Assessment) -> None:
    """Let a rate that the wrong reading lacked count from that reading on."""
    rate, now_running = rate_of(assessment), loss_queries.running(finding.pk)
    if now_running is None:
        begin_loss(casefile, finding, wrong, assessment, SegmentStart.CORRECTED)
        if finding.repaired_at is not None:
            losses.end(
                finding_id=finding.pk,
                ended_at=finding.repaired_at,
                end_reason=SegmentEnd.REPAIRED,
                recorded_at=casefile.at,
            )
    elif rate is not None and now_running.started_at <= wrong.taken_at:
        losses.change(
            site_id=finding.site_id,
            finding_id=finding.pk,
            system_id=now_running.system_id,
            changed_at=wrong.taken_at,
            rate=rate,
            recorded_at=casefile.at,
        )
