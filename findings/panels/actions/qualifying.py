"""Confirm that somebody is a qualified electrical person at a site, for a term, and end that."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from findings.logbook import actions as logbook
from findings.panels.actions.refusals import person, written
from findings.panels.models import ElectricalQualification
from findings.panels.rules import LONGEST_QUALIFICATION
from findings.plant import queries as plant
from findings.plant.actions import check_reason, refuse, void_row
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, Forbidden, constraint_refusals


class QualifiedByThemselves(Forbidden):
    """Nobody confirms it of themselves."""

    code = "two_people_required"
    title = "A qualification is confirmed by somebody else than whom it is about."


class QualificationVoid(Conflict):
    """A qualification is ended once."""

    code = "qualification_void"
    title = "This qualification is void already."


constraint_refusals["qualification_by_somebody_else"] = QualifiedByThemselves


def confirm_qualification(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    user_id: int,
    ground: str,
    until_at: datetime,
) -> ElectricalQualification:
    """Confirm that a member of the site is qualified by the site's own rules and local code, until a moment.

    Raises PersonRequired, QualifiedByThemselves, and Invalid for somebody who doesn't work at the site, a
    ground that says nothing, or a term over three years.
    """
    by = person(actor)
    if user_id == by:
        raise QualifiedByThemselves
    if not plant.members_of(site_id).filter(user_id=user_id).exists():
        refuse("/username", "person_unknown", "Nobody who works at this site has this name.")
    if not at < until_at <= at + LONGEST_QUALIFICATION:
        refuse("/until_at", "out_of_range", "It lies ahead, by three years at most.")
    with transaction.atomic():
        row = ElectricalQualification.objects.create(
            site_id=site_id,
            user_id=user_id,
            ground=written("/ground", ground),
            at=at,
            until_at=until_at,
            confirmed_by_id=by,
        )
        _log(row, actor, at, "qualification.confirmed")
    return row


def void_qualification(
    *, actor: Actor, at: datetime, qualification_id: uuid.UUID, reason: str
) -> ElectricalQualification:
    """End a qualification at once; what was released on it stays released until it is voided itself.

    Raises NotFound, Invalid, QualificationVoid.
    """
    with transaction.atomic():
        row = void_row(
            ElectricalQualification,
            qualification_id,
            at=at,
            reason=check_reason(reason),
            already=QualificationVoid,
            void_by_id=actor.user_id,
        )
        _log(row, actor, at, "qualification.voided", row.void_reason)
    return row


def _log(row: ElectricalQualification, actor: Actor, at: datetime, act: str, reason: str = "") -> None:
    logbook.write(
        site_id=row.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="electrical_qualification",
        subject_id=row.pk,
        reason=reason,
        detail={"username": row.user.username, "ground": row.ground, "until_at": row.until_at},
    )
