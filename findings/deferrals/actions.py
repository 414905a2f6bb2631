"""Ask for a deferral, grant or refuse it, and end it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F

from findings.deferrals import queries
from findings.deferrals.models import Deferral
from findings.deferrals.rules import DeferralReason, problems_of_request
from findings.logbook import actions as logbook
from findings.register import actions as register
from findings.register.models import Finding
from findings.register.rules import FindingStatus, reason_is_written
from plantcare.api.actor import Actor
from plantcare.api.etags import stale
from plantcare.api.problems import (
    Conflict,
    FieldError,
    Forbidden,
    Invalid,
    NotFound,
    PersonRequired,
    constraint_refusals,
)
from plantcare.jobs import items

CHUNK = 500


class DeferralUnknown(NotFound):
    """No such deferral."""


class DeferralRefused(Invalid):
    """The request breaks a rule of deferrals."""

    code = "deferral_not_allowed"
    title = "This finding can't be deferred like that."


class FindingNotOpen(Conflict):
    """Only an open finding is deferred."""

    code = "finding_not_open"
    title = "Only an open finding is deferred."


class DeferralStanding(Conflict):
    """A finding has one deferral at a time."""

    code = "deferral_standing"
    title = "A deferral of this finding is asked for or in force already."


class DeferralDecided(Conflict):
    """The deferral was decided, ended, or its term is over."""

    code = "deferral_decided"
    title = "This deferral waits for no decision any more."


class TwoPeopleRequired(Forbidden):
    """Whoever asks to let a danger wait never grants it."""

    code = "two_people_required"
    title = "A safety finding's deferral is granted by somebody else than who asked for it."


constraint_refusals.update(
    {
        "deferral_one_at_a_time": DeferralStanding,
        "deferral_safety_by_two_people": TwoPeopleRequired,
        "deferral_safety_states_measures": DeferralRefused,
    }
)


def request_deferral(
    *,
    actor: Actor,
    at: datetime,
    finding_id: uuid.UUID,
    reason: DeferralReason,
    text: str,
    until_at: datetime,
    interim_measures: str = "",
) -> Deferral:
    """Ask to let a finding wait until a moment; nothing waits before it is granted.

    Raises FindingUnknown, FindingNotOpen, DeferralRefused, DeferralStanding, PersonRequired.
    """
    if actor.user_id is None:
        raise PersonRequired
    with transaction.atomic():
        finding = Finding.objects.filter(pk=finding_id).first()
        if finding is None:
            raise register.FindingUnknown
        _check_request(finding, DeferralReason(reason), text, at, until_at, interim_measures)
        _end_leftover(finding, actor=actor, at=at)
        deferral = Deferral.objects.create(
            site_id=finding.site_id,
            finding=finding,
            is_safety=finding.is_safety,
            reason=reason,
            text=text.strip(),
            interim_measures=interim_measures.strip(),
            until_at=until_at,
            requested_by_id=actor.user_id,
            requested_at=at,
        )
        _log(deferral, actor=actor, at=at, act="deferral.requested", reason=deferral.text)
    return deferral


def approve(*, actor: Actor, at: datetime, deferral_id: uuid.UUID, version: int | None = None) -> Deferral:
    """Grant a deferral and mark its finding deferred; the loss goes on.

    Raises DeferralUnknown, DeferralDecided, TwoPeopleRequired, PersonRequired, FindingNotOpen, 412.
    """
    with transaction.atomic():
        deferral = _waiting(deferral_id, at, version)
        _check_approver(deferral, actor)
        if deferral.finding.status != FindingStatus.OPEN:
            raise FindingNotOpen
        deferral = _guarded(deferral, approved_by_id=actor.user_id, approved_at=at)
        _log(deferral, actor=actor, at=at, act="deferral.approved")
        register.defer(
            actor=actor,
            at=at,
            finding_id=deferral.finding_id,
            deferral_id=deferral.pk,
            until_at=deferral.until_at,
        )
    return deferral


def refuse(
    *, actor: Actor, at: datetime, deferral_id: uuid.UUID, version: int | None = None, text: str = ""
) -> Deferral:
    """Refuse a deferral. Raises DeferralUnknown, DeferralDecided, 412."""
    with transaction.atomic():
        deferral = _guarded(_waiting(deferral_id, at, version), refused_at=at)
        _log(deferral, actor=actor, at=at, act="deferral.refused", reason=text)
    return deferral


def end(
    *, actor: Actor, at: datetime, deferral_id: uuid.UUID, version: int | None = None, text: str = ""
) -> Deferral:
    """End a deferral before its term; its finding is open again. Raises DeferralUnknown, DeferralDecided."""
    with transaction.atomic():
        deferral = _standing(deferral_id, version)
        return _end(deferral, actor=actor, at=at, act="deferral.ended", reason=text)


def end_lapsed(
    *, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None = None
) -> Mapping[str, Any]:
    """End the deferrals whose term is over, each in its own transaction; return how many.

    Bears being run twice and beside itself: a row that another run holds is left to it.
    """
    rows = queries.lapsed(at)
    if site_ids is not None:
        rows = rows.filter(site_id__in=site_ids)
    ended = 0
    for deferral_id in list(rows.exclude(pk__in=items.parked()).values_list("pk", flat=True)[:CHUNK]):
        with items.spared(deferral_id), transaction.atomic():
            held = (
                queries.lapsed(at)
                .filter(pk=deferral_id)
                .select_for_update(skip_locked=True, of=("self",), no_key=True)
            )
            deferral = held.first()
            if deferral is not None:
                _end(deferral, actor=actor, at=at, act="deferral.lapsed", reason="its term is over")
                ended += 1
    return {"ended": ended}


def _check_request(
    finding: Finding,
    reason: DeferralReason,
    text: str,
    at: datetime,
    until_at: datetime,
    interim_measures: str,
) -> None:
    if finding.status != FindingStatus.OPEN:
        raise FindingNotOpen(finding_status=finding.status)
    problems = problems_of_request(
        reason=reason,
        is_safety=finding.is_safety,
        at=at,
        until_at=until_at,
        interim_measures=interim_measures,
    )
    if not reason_is_written(text):
        problems.append(("text", "too_short", "Say why, in at least ten characters."))
    if problems:
        errors = [FieldError(f"/{member}", code, why) for member, code, why in problems]
        raise DeferralRefused(errors=errors)


def _end_leftover(finding: Finding, *, actor: Actor, at: datetime) -> None:
    """End what still stands though its finding went on: a term that is over, a repair that failed."""
    for old in Deferral.objects.filter(queries.STANDING, finding=finding):
        if old.approved_at is None and old.until_at > at:
            raise DeferralStanding
        _end(old, actor=actor, at=at, act="deferral.ended", reason="the finding is open again")


def _check_approver(deferral: Deferral, actor: Actor) -> None:
    if actor.user_id is None:
        raise PersonRequired
    if not (deferral.is_safety or deferral.finding.is_safety):
        return
    if actor.key_id is not None or actor.kind != "person":
        raise PersonRequired
    if actor.user_id == deferral.requested_by_id:
        raise TwoPeopleRequired


def _standing(deferral_id: uuid.UUID, version: int | None) -> Deferral:
    deferral = Deferral.objects.select_related("finding").filter(pk=deferral_id).first()
    if deferral is None:
        raise DeferralUnknown
    if version is not None and version != deferral.version:
        raise stale(deferral.version)
    if deferral.refused_at is not None or deferral.ended_at is not None:
        raise DeferralDecided
    return deferral


def _waiting(deferral_id: uuid.UUID, at: datetime, version: int | None) -> Deferral:
    deferral = _standing(deferral_id, version)
    if deferral.approved_at is not None or deferral.until_at <= at:
        raise DeferralDecided
    return deferral


def _end(deferral: Deferral, *, actor: Actor, at: datetime, act: str, reason: str) -> Deferral:
    was_in_force = deferral.approved_at is not None
    deferral = _guarded(deferral, ended_at=at)
    _log(deferral, actor=actor, at=at, act=act, reason=reason)
    finding = Finding.objects.get(pk=deferral.finding_id)
    if was_in_force and finding.status == FindingStatus.DEFERRED:
        register.end_deferral(
            actor=actor, at=at, finding_id=finding.pk, deferral_id=deferral.pk, reason=reason
        )
    return deferral


def _guarded(deferral: Deferral, **fields: Any) -> Deferral:
    same = Deferral.objects.filter(queries.STANDING, pk=deferral.pk, version=deferral.version)
    if not same.update(version=F("version") + 1, **fields):
        raise stale(deferral.version)
    deferral.refresh_from_db()
    return deferral


def _log(deferral: Deferral, *, actor: Actor, at: datetime, act: str, reason: str = "") -> None:
    logbook.write(
        site_id=deferral.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="deferral",
        subject_id=deferral.pk,
        subject_version=deferral.version,
        reason=reason,
        detail={
            "finding_id": deferral.finding_id,
            "reason": deferral.reason,
            "is_safety": deferral.is_safety,
            "until_at": deferral.until_at,
        },
    )
