"""Let a qualified person release the opening of an enclosure that a discharge keeps shut."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from findings.conditions.models import Condition
from findings.logbook import actions as logbook
from findings.panels import queries
from findings.panels.actions.refusals import person, written
from findings.panels.models import ElectricalQualification, OpeningRelease
from findings.panels.rules import LONGEST_RELEASE, Technique
from findings.plant.actions import check_reason, refuse, void_row
from findings.plant.models import MeasuringPoint
from findings.register.models import Finding
from findings.sound.discharge import DISCHARGES
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, Forbidden, NotFound, constraint_refusals


class NotQualified(Forbidden):
    """Only a qualified electrical person decides that an enclosure may be opened."""

    code = "qualified_person_required"
    title = "Only a qualified electrical person, confirmed at this site, may release an opening."


class NotKeptShut(Conflict):
    """There is nothing to release."""

    code = "enclosure_not_kept_shut"
    title = "No discharge keeps this enclosure shut now."


class OverruledByTheSame(Forbidden):
    """Whoever set a discharge aside doesn't release on the strength of it."""

    code = "two_people_required"
    title = "Whoever judged that there is no discharge doesn't release the opening as well."


class ReleaseVoid(Conflict):
    """A release is taken back once."""

    code = "opening_release_void"
    title = "This release is void already."


constraint_refusals["opening_release_by_the_qualified"] = NotQualified


def release_opening(
    *,
    actor: Actor,
    at: datetime,
    finding_id: uuid.UUID,
    technique: str,
    found: str,
    conditions: str,
    until_at: datetime,
) -> OpeningRelease:
    """Release the opening of the enclosure of an open finding until a moment, on conditions.

    ``found`` says what the other technique showed. Raises NotFound, PersonRequired, NotQualified,
    NotKeptShut, OverruledByTheSame, and Invalid for a term over 31 days or texts that say nothing.
    """
    by = person(actor)
    with transaction.atomic():
        finding = queries.open_discharge(finding_id)
        if finding is None:
            raise NotFound
        # One release at a time at a point, and none while a judgement is being written there.
        MeasuringPoint.objects.select_for_update(no_key=True).get(pk=finding.point_id)
        qualification = _qualification(finding, by, at)
        if finding.point_id not in queries.kept_shut([finding.point_id], at):
            raise NotKeptShut
        _refuse_own_overrule(finding, by)
        if technique not in set(Technique):
            refuse("/technique", "invalid_choice", f"One of {', '.join(Technique)}.")
        if not at < until_at <= at + LONGEST_RELEASE:
            refuse("/until_at", "out_of_range", f"It lies ahead, by {LONGEST_RELEASE.days} days at most.")
        release = OpeningRelease.objects.create(
            site_id=finding.site_id,
            point_id=finding.point_id,
            finding=finding,
            condition_id=finding.condition_id,
            by_id=by,
            qualification=qualification,
            technique=Technique(technique),
            found=written("/found", found),
            conditions=written("/conditions", conditions),
            at=at,
            until_at=until_at,
        )
        _log(release, actor, at, "finding.opening_released")
    return release


def void_release(*, actor: Actor, at: datetime, release_id: uuid.UUID, reason: str) -> OpeningRelease:
    """Take a release back: the enclosure is kept shut again. Raises NotFound, Invalid, ReleaseVoid."""
    with transaction.atomic():
        release = void_row(
            OpeningRelease,
            release_id,
            at=at,
            reason=check_reason(reason),
            already=ReleaseVoid,
            void_by_id=actor.user_id,
        )
        _log(release, actor, at, "finding.opening_release_voided", release.void_reason)
    return release


def _qualification(finding: Finding, user_id: int, at: datetime) -> ElectricalQualification:
    """Return the person's own qualification that holds. Raises NotQualified, which names who may."""
    held = queries.qualified_now(finding.site_id, at)
    own = next((row for row in held if row.user_id == user_id), None)
    if own is None:
        raise NotQualified(queries.who_may_release(finding.site_id, at))
    return own


def _refuse_own_overrule(finding: Finding, user_id: int) -> None:
    """Refuse whoever judged, since the finding was opened, that a discharge is none."""
    milder = Condition.objects.filter(
        point_id=finding.point_id,
        kind=finding.kind,
        at__gte=finding.opened_at,
        judged_by_id=user_id,
        overrules__isnull=False,
    ).exclude(state__in=[sound.value for sound in DISCHARGES])
    if milder.exists():
        raise OverruledByTheSame


def _log(release: OpeningRelease, actor: Actor, at: datetime, act: str, reason: str = "") -> None:
    logbook.write(
        site_id=release.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="finding",
        subject_id=release.finding_id,
        subject_version=release.finding.version,
        reason=reason,
        detail={
            "release_id": release.pk,
            "technique": release.technique,
            "found": release.found,
            "conditions": release.conditions,
            "until_at": release.until_at,
        },
    )
