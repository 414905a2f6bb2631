"""Let a judged condition count: for the finding that is open, or as the one that opens it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from findings.conditions import queries as conditions
from findings.conditions.models import Condition
from findings.logbook import actions as logbook
from findings.logbook.actions import Act
from findings.readings.actions import Book
from findings.readings.models import Reading
from findings.register.actions import guards, hearing
from findings.register.actions.casefile import Casefile, Draft
from findings.register.models import Finding
from findings.register.rules import OPEN_STATUSES, FindingStatus
from plantcare.api.actor import Actor


def consider(*, actor: Actor, at: datetime, condition: Condition) -> Finding | None:
    """Write what a kept condition means for the findings at its point, and return the finding concerned.

    An open finding of its kind takes the condition that now stands; where none is open, one is opened if
    the condition asks for it. What was read after a repair is for the repair's check to judge.
    """
    with transaction.atomic():
        reading = Reading.objects.select_related("survey").get(pk=condition.reading_id)
        casefile = Casefile(Book(reading.survey, [reading], at), at)
        draft = Draft()
        finding = _open_one(casefile, condition)
        if finding is None and condition.opens_finding:
            finding, _ = hearing.conclude(casefile, reading, draft, kind=condition.kind)
            casefile.keep_numbers(draft)
            casefile.close()
        if finding is not None:
            draft.acts.append(_counted(casefile, finding, reading, condition))
        logbook.write_many(site_id=reading.site_id, actor=actor, at=at, acts=draft.acts)
    return finding


def stand(casefile: Casefile, finding: Finding) -> Finding:
    """Write the condition that stands for an open finding, if another one does than before."""
    standing = conditions.standing_at(finding.point_id, finding.kind, finding.opened_at)
    if standing is None or standing.pk == finding.condition_id:
        return finding
    finding = guards.guarded(finding, condition=standing, condition_severity=standing.severity)
    casefile.keep(finding)
    return finding


def _open_one(casefile: Casefile, condition: Condition) -> Finding | None:
    found = casefile.open_at(condition.point_id)
    return next((one for one in found if one.kind == condition.kind), None)


def _counted(casefile: Casefile, finding: Finding, reading: Reading, condition: Condition) -> Act:
    repaired_at = finding.repaired_at
    checked = finding.status == FindingStatus.REPAIRED and repaired_at and reading.taken_at >= repaired_at
    if not checked and finding.status in OPEN_STATUSES:
        finding = stand(casefile, finding)
    return Act(
        act="finding.condition_judged",
        subject_kind="finding",
        subject_id=finding.pk,
        subject_version=finding.version,
        detail=_detail(finding, condition),
    )


def _detail(finding: Finding, condition: Condition) -> dict[str, Any]:
    return {
        "number": finding.number,
        "status": finding.status,
        "condition_id": condition.pk,
        "method": condition.method,
        "state": condition.state,
        "severity": condition.severity,
        "stands": finding.condition_id == condition.pk,
    }
