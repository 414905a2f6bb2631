"""What one reading means: a new finding, an old one heard again or come back, a repair's sequel, or quiet."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from findings.kinds.base import Kind, Medium
from findings.logbook.actions import Act
from findings.losses import actions as losses
from findings.losses.rules import SegmentStart
from findings.readings.models import Reading
from findings.register.actions import guards
from findings.register.actions.assessing import assess_reading
from findings.register.actions.casefile import Casefile, Draft, Outcome
from findings.register.actions.evidence import says_something
from findings.register.actions.rates import fields_of, finding_fields, indication, rate_of
from findings.register.actions.weighing import standing_of, takes_over
from findings.register.models import Assessment, Evidence, Finding
from findings.register.rules import (
    EvidenceRole,
    FindingStatus,
    Match,
    Proof,
    class_of,
    match_existing,
    medium_of,
)


def conclude(
    casefile: Casefile, reading: Reading, draft: Draft, *, kind: str = ""
) -> tuple[Finding | None, Outcome]:
    """Attach a new reading to the findings at its point, and write what follows.

    ``kind`` is what a reading was judged to show where whoever took it named nothing.
    """
    kind = kind or reading.kind
    if not kind:
        return _quiet(casefile, reading, draft)
    known = casefile.known_at(reading.point_id, kind)
    if known is None:
        return _found(casefile, reading, draft, Kind(kind), follows=None)
    match = match_existing(FindingStatus(known.status), known.repaired_at, reading.taken_at)
    if match is Match.SAME:
        return _same(casefile, known, reading, draft)
    if _is_of_the_past(casefile, known, reading):
        return _past(casefile, known, reading, draft)
    if match is Match.RELEAK:
        return _reopened(casefile, known, reading, draft)
    follows = known if match is Match.NEW_LINKED else None
    return _found(casefile, reading, draft, Kind(kind), follows=follows)


def attach(finding: Finding, reading: Reading, role: EvidenceRole, casefile: Casefile) -> None:
    """Add a reading to a finding's evidence."""
    Evidence.objects.create(
        site_id=finding.site_id, finding=finding, reading=reading, role=role, recorded_at=casefile.at
    )


def _is_of_the_past(casefile: Casefile, known: Finding, reading: Reading) -> bool:
    """Tell whether a reading was taken before what closed the finding, or before a later reading."""
    ended_at = known.repaired_at or known.closed_at
    return casefile.book.is_late(reading) or (ended_at is not None and reading.taken_at < ended_at)


def _found(
    casefile: Casefile, reading: Reading, draft: Draft, kind: Kind, *, follows: Finding | None
) -> tuple[Finding, Outcome]:
    point = casefile.book.points[reading.point_id]
    medium = medium_of(kind, reading.medium, point.medium)
    danger, around = class_of(kind, medium), casefile.around(point.asset_id, medium)
    finding = Finding.objects.create(
        site_id=reading.site_id,
        number=casefile.next_number(draft),
        asset_id=point.asset_id,
        point=point,
        kind=kind,
        medium=medium or "",
        system=around.system,
        hazard=danger.hazard,
        is_safety=danger.safety,
        status=FindingStatus.OPEN,
        severity=reading.severity,
        level_db=reading.level_db,
        found_at=reading.taken_at,
        opened_at=reading.taken_at,
        last_heard_at=reading.taken_at,
        follows=follows,
        created_at=casefile.at,
    )
    attach(finding, reading, EvidenceRole.FOUND, casefile)
    assessment = assess_reading(finding, reading, around, recorded_at=casefile.at)
    if assessment is not None:
        fields = fields_of(assessment)
        Finding.objects.filter(pk=finding.pk).update(**fields)
        finding.refresh_from_db()
        begin_loss(casefile, finding, reading, assessment, SegmentStart.FOUND)
    casefile.keep(finding)
    draft.acts.append(act_on(finding, reading, "finding.opened"))
    return finding, "found"


def _same(casefile: Casefile, known: Finding, reading: Reading, draft: Draft) -> tuple[Finding, Outcome]:
    repaired_at = known.repaired_at
    if known.status == FindingStatus.REPAIRED and repaired_at is not None and reading.taken_at >= repaired_at:
        return _after_repair(casefile, known, reading, draft)
    if (
        known.status == FindingStatus.REPAIRED
        or reading.taken_at < known.last_heard_at
        or casefile.book.is_late(reading)
    ):
        return _past(casefile, known, reading, draft)
    attach(known, reading, EvidenceRole.HEARD_AGAIN, casefile)
    assessment, fields = _weighed(casefile, known, reading)
    finding = guards.guarded(known, **_heard_fields(known, reading), **fields)
    casefile.keep(finding)
    draft.acts.append(act_on(finding, reading, "finding.heard_again", assessment))
    return finding, "heard_again"


def _weighed(
    casefile: Casefile, known: Finding, reading: Reading
) -> tuple[Assessment | None, dict[str, Any]]:
    """Assess a reading, let its rate hold from then on unless better evidence stands; return what changes."""
    if not says_something(reading):
        return None, {}
    standing = standing_of(known)
    assessment = _new_assessment(casefile, known, reading, standing)
    rate = rate_of(assessment)
    if rate is None or assessment is None or not takes_over(assessment, standing):
        is_newest = reading.taken_at >= known.last_heard_at
        return assessment, indication(known, assessment) if is_newest else {}
    system = known.system or casefile.system(known.asset_id, known_medium(known))
    if system is not None:
        losses.change(
            site_id=known.site_id,
            finding_id=known.pk,
            system_id=system.pk,
            changed_at=reading.taken_at,
            rate=rate,
            recorded_at=casefile.at,
        )
    return assessment, {**finding_fields(rate, assessment.status), "system": system}


def _past(casefile: Casefile, known: Finding, reading: Reading, draft: Draft) -> tuple[Finding, Outcome]:
    """A reading older than what is known moves no date and no status back.

    Within the present opening a better proof than the one that stands holds from when it was taken.
    """
    attach(known, reading, EvidenceRole.HEARD_AGAIN, casefile)
    assessment: Assessment | None = None
    losing = known.status in {FindingStatus.OPEN, FindingStatus.DEFERRED}
    if losing and reading.taken_at >= known.opened_at:
        assessment, fields = _weighed(casefile, known, reading)
        if fields:
            finding = guards.guarded(known, **fields)
            casefile.keep(finding)
            draft.acts.append(act_on(finding, reading, "finding.better_evidence", assessment))
            return finding, "heard_again"
    draft.acts.append(act_on(known, reading, "finding.heard_before", assessment))
    return known, "heard_again"


def _after_repair(
    casefile: Casefile, known: Finding, reading: Reading, draft: Draft
) -> tuple[Finding, Outcome]:
    """The verification judges this reading; the loss stays ended until it does."""
    attach(known, reading, EvidenceRole.AFTER_REPAIR, casefile)
    if reading.kind:
        _new_assessment(casefile, known, reading)
    draft.acts.append(act_on(known, reading, "finding.heard_after_repair"))
    return known, "after_repair"


def _reopened(casefile: Casefile, known: Finding, reading: Reading, draft: Draft) -> tuple[Finding, Outcome]:
    attach(known, reading, EvidenceRole.HEARD_AGAIN, casefile)
    assessment = assess_reading(
        known, reading, casefile.around(known.asset_id, known_medium(known)), recorded_at=casefile.at
    )
    fields = _heard_fields(known, reading)
    if assessment is not None:
        fields |= fields_of(assessment)
    finding = guards.guarded(known, **reopening(known, reading.taken_at), **fields)
    if assessment is not None:
        begin_loss(casefile, finding, reading, assessment, SegmentStart.REOPENED)
    casefile.keep(finding)
    draft.acts.append(act_on(finding, reading, "finding.reopened"))
    return finding, "reopened"


def reopening(finding: Finding, heard_at: datetime) -> dict[str, Any]:
    """Return what a closed finding forgets when it opens again; the logbook keeps it."""
    return {
        "opened_at": heard_at,
        "status": FindingStatus.OPEN,
        "reopened_count": finding.reopened_count + 1,
        "repaired_at": None,
        "closed_at": None,
        "closing_reading_id": None,
        "closure_reason": "",
        "closure_text": "",
    }


def _quiet(casefile: Casefile, reading: Reading, draft: Draft) -> tuple[Finding | None, Outcome]:
    concerned: Finding | None = None
    outcome: Outcome = "quiet"
    for finding in casefile.open_at(reading.point_id):
        repaired_at = finding.repaired_at
        if finding.status == FindingStatus.REPAIRED and repaired_at and reading.taken_at >= repaired_at:
            concerned, outcome = _after_repair(casefile, finding, reading, draft)
            continue
        if reading.taken_at < finding.found_at:
            continue
        attach(finding, reading, EvidenceRole.QUIET, casefile)
        draft.acts.append(act_on(finding, reading, "finding.quiet"))
        concerned = concerned or finding
    return concerned, outcome


def begin_loss(
    casefile: Casefile, finding: Finding, reading: Reading, assessment: Assessment, start: SegmentStart
) -> None:
    rate = rate_of(assessment)
    if rate is None or finding.system_id is None:
        return
    losses.begin(
        site_id=finding.site_id,
        finding_id=finding.pk,
        system_id=finding.system_id,
        started_at=reading.taken_at,
        rate=rate,
        start_reason=start,
        recorded_at=casefile.at,
    )


def _new_assessment(
    casefile: Casefile, finding: Finding, reading: Reading, standing: Proof | None = None
) -> Assessment | None:
    """Assess again only what a reading has evidence for; a bare level doesn't unsay a rate."""
    if not says_something(reading):
        return None
    around = casefile.around(finding.asset_id, known_medium(finding))
    return assess_reading(finding, reading, around, recorded_at=casefile.at, standing=standing)


def _heard_fields(finding: Finding, reading: Reading) -> dict[str, Any]:
    return {
        "last_heard_at": reading.taken_at,
        "level_db": finding.level_db if reading.level_db is None else reading.level_db,
        "severity": finding.severity if reading.severity is None else reading.severity,
    }


def known_medium(finding: Finding) -> Medium | None:
    return Medium(finding.medium) if finding.medium else None


def act_on(finding: Finding, reading: Reading, act: str, assessment: Assessment | None = None) -> Act:
    return Act(
        act=act,
        subject_kind="finding",
        subject_id=finding.pk,
        subject_version=finding.version,
        detail={
            "number": finding.number,
            "status": finding.status,
            "reading_id": reading.pk,
            "taken_at": reading.taken_at,
            "leak_rate_m3_per_s": finding.leak_rate_m3_per_s,
            **_said_of(assessment, finding),
        },
    )


def _said_of(assessment: Assessment | None, finding: Finding) -> dict[str, Any]:
    """Return what an entry says of a new assessment that did not become the finding's rate."""
    if assessment is None or assessment.pk == finding.standing_id:
        return {}
    return {"rate_kept": {"assessment_id": assessment.pk, "reasons": assessment.reasons}}
