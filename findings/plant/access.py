"""THE access table at work: which sites somebody sees, and what they may do there.

A site that the caller may not see answers exactly like one that does not exist; a visible site
where the right is missing answers 403. Every queryset of a door starts from :meth:`Policy.narrow`.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from typing import Any, TypeVar

from django.db.models import Model, QuerySet

from findings.plant.models import Membership, Site
from findings.plant.rules import ROLE_RIGHTS, Right, Role, rights_of
from plantcare.api.actor import Actor
from plantcare.api.problems import Forbidden, NotFound

RowT = TypeVar("RowT", bound=Model)


class Policy:
    """Answers every question about who may, from memberships and the scopes of a key."""

    def rights_by_site(self, actor: Actor) -> dict[uuid.UUID, frozenset[Right]]:
        """Return the caller's rights per site. A key never has more than its owner."""
        if actor.user_id is None:
            return {}
        roles: dict[uuid.UUID, set[Role]] = defaultdict(set)
        held = Membership.objects.filter(user_id=actor.user_id, ended_at__isnull=True, user__is_active=True)
        for site_id, role in held.values_list("site_id", "role"):
            roles[site_id].add(Role(role))
        return {site_id: self._scoped(actor, rights_of(of_site)) for site_id, of_site in roles.items()}

    def sites(self, actor: Actor, right: str) -> list[uuid.UUID] | None:
        """Return the ids of the sites where the caller holds ``right``; None means all (a job)."""
        if actor.kind == "job":
            return None
        wanted = self._wanted(actor, right)
        if wanted is None or actor.user_id is None:
            return []
        roles = [role.value for role, rights in ROLE_RIGHTS.items() if wanted in rights]
        held = Membership.objects.filter(
            user_id=actor.user_id, role__in=roles, ended_at__isnull=True, user__is_active=True
        )
        return list(held.order_by("site_id").values_list("site_id", flat=True).distinct())

    def all_sites(self) -> list[uuid.UUID]:
        """Return every site there is, for work that nobody asked for."""
        return list(Site.objects.order_by("code").values_list("pk", flat=True))

    def time_zones(self) -> dict[uuid.UUID, str]:
        """Return every site's time zone, for work about a site's own day."""
        return dict(Site.objects.order_by("code").values_list("pk", "time_zone"))

    def narrow(
        self, actor: Actor, right: str, rows: QuerySet[RowT], site_field: str = "site_id"
    ) -> QuerySet[RowT]:
        """Return only the rows of sites where the caller holds ``right``."""
        sites = self.sites(actor, right)
        return rows if sites is None else rows.filter(**{f"{site_field}__in": sites})

    def rights(self, actor: Actor, site_id: uuid.UUID | str | None) -> frozenset[Right]:
        """Return what the caller may do at one site; nothing at a foreign or unknown one."""
        if actor.kind == "job":
            return frozenset(Right)
        if actor.user_id is None or site_id is None:
            return frozenset()
        held = Membership.objects.filter(
            user_id=actor.user_id, site_id=site_id, ended_at__isnull=True, user__is_active=True
        )
        return self._scoped(actor, rights_of(Role(role) for role in held.values_list("role", flat=True)))

    def require(self, actor: Actor, right: str, site_id: uuid.UUID | str | None) -> None:
        """Raise NotFound where the site is not the caller's to see, Forbidden where the right is missing.

        Without a site the right has to be held somewhere.
        """
        if actor.kind == "job":
            return
        if site_id is None:
            if not self.sites(actor, right):
                raise Forbidden
            return
        rights = self.rights(actor, site_id)
        if not rights:
            raise NotFound
        if Right(right) not in rights:
            detail = f"This takes the right “{right}” on this site."
            if Right.VIEW not in rights:
                raise NotFound
            raise Forbidden(detail)

    def _wanted(self, actor: Actor, right: str) -> Right | None:
        wanted = Right(right)
        return wanted if actor.scopes is None or wanted in actor.scopes else None

    def _scoped(self, actor: Actor, rights: frozenset[Right]) -> frozenset[Right]:
        if actor.scopes is None:
            return rights
        return frozenset(right for right in rights if right.value in actor.scopes)


POLICY = Policy()


def standing(actor: Actor) -> list[dict[str, Any]]:
    """Return what the caller is and may do, site by site."""
    rights = POLICY.rights_by_site(actor)
    held = Membership.objects.filter(user_id=actor.user_id or 0, ended_at__isnull=True).select_related("site")
    found: dict[uuid.UUID, dict[str, Any]] = {}
    for membership in held.order_by("site__code", "role"):
        site = membership.site
        here = found.setdefault(
            site.pk,
            {
                "site_id": site.pk,
                "code": site.code,
                "name": site.name,
                "time_zone": site.time_zone,
                "currency": site.currency,
                "unit_system": site.unit_system,
                "roles": [],
                "rights": sorted(rights.get(site.pk, ())),
            },
        )
        here["roles"].append(membership.role)
    return list(found.values())


def visible_site(actor: Actor, right: str, site_id: Any) -> Site:
    """Return the site for a door that names it, after the right was checked."""
    POLICY.require(actor, right, site_id)
    return Site.objects.get(pk=site_id)
