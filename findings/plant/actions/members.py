"""Say who works at a site, and in which part."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from findings.logbook import actions as logbook
from findings.plant.actions.refusals import lock_site, refuse
from findings.plant.models import Membership, Site
from findings.plant.rules import Role
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, NotFound, constraint_refusals
from plantcare.people import queries as people


class RoleHeld(Conflict):
    """Nobody holds a role twice."""

    code = "role_held"
    title = "This person already holds this role here."


class MembershipEnded(Conflict):
    """It ended before."""

    code = "membership_ended"
    title = "This membership has ended."


class LastManager(Conflict):
    """A site without a manager could not be given one by anybody who works there."""

    code = "last_manager"
    title = "This is the site's last manager; name another one first."


constraint_refusals["membership_once_per_role"] = RoleHeld


def add_membership(*, actor: Actor, at: datetime, site_id: uuid.UUID, user_id: int, role: str) -> Membership:
    """Give a person a role at a site. Raises SiteUnknown, Invalid for an unknown person, RoleHeld."""
    with transaction.atomic():
        site = lock_site(site_id)
        membership = enter(site, user_id, role, at)
        logbook.write(
            site_id=site.pk,
            actor=actor,
            at=at,
            act="membership.added",
            subject_kind="membership",
            subject_id=membership.pk,
            detail={"username": membership.user.username, "role": membership.role},
        )
    return membership


def end_membership(*, actor: Actor, at: datetime, membership_id: uuid.UUID, reason: str = "") -> Membership:
    """End a role at once. Raises NotFound, MembershipEnded, LastManager."""
    with transaction.atomic():
        found = Membership.objects.filter(pk=membership_id).first()
        if found is None:
            raise NotFound
        site = lock_site(found.site_id)
        if found.role == Role.MANAGER and not _other_managers(site, found):
            raise LastManager
        ended = Membership.objects.filter(pk=found.pk, ended_at__isnull=True).update(ended_at=at)
        if not ended:
            raise MembershipEnded
        membership = Membership.objects.select_related("user", "site").get(pk=found.pk)
        logbook.write(
            site_id=site.pk,
            actor=actor,
            at=at,
            act="membership.ended",
            subject_kind="membership",
            subject_id=membership.pk,
            reason=reason,
            detail={"username": membership.user.username, "role": membership.role},
        )
    return membership


def person_named(username: str, pointer: str = "/username") -> int:
    """Return the id of who signs in by this name. Raises Invalid with the pointer."""
    found = people.person(username)
    if found is None:
        refuse(pointer, "person_unknown", "Nobody who may sign in has this name.")
    return found.pk


def enter(site: Site, user_id: int, role: str, at: datetime) -> Membership:
    """Write a membership as part of another act. Raises Invalid, RoleHeld."""
    user = people.people().filter(pk=user_id).first()
    if user is None:
        refuse("/username", "person_unknown", "Nobody who may sign in has this name.")
    if role not in set(Role):
        refuse("/role", "invalid_choice", f"One of {', '.join(Role)}.")
    if Membership.objects.filter(site=site, user=user, role=role, ended_at__isnull=True).exists():
        raise RoleHeld(errors=[FieldError("/role", "role_held", RoleHeld.title)])
    return Membership.objects.create(site=site, user=user, role=Role(role), since_at=at)


def _other_managers(site: Site, membership: Membership) -> bool:
    held = Membership.objects.filter(
        site=site, role=Role.MANAGER, ended_at__isnull=True, user__is_active=True
    )
    return membership.ended_at is not None or held.exclude(user_id=membership.user_id).exists()
