"""The sites that somebody sees."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass

from findings.plant.models import Area, Membership, Site
from findings.plant.rules import Right, Role, roles_with

__all__ = ["Person", "Site", "areas_of", "people_with", "sites_seen"]


def sites_seen(site_ids: Iterable[uuid.UUID]) -> list[Site]:
    """Return the sites with these ids, by code."""
    return list(Site.objects.filter(pk__in=list(site_ids)).order_by("code"))


def areas_of(site: Site) -> list[Area]:
    """Return a site's areas, by code."""
    return list(Area.objects.filter(site=site).order_by("code"))


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who can be named on a form."""

    user_id: int
    name: str


def people_with(site: Site, right: Right) -> list[Person]:
    """Return who holds a right at the site now, by name."""
    roles = [Role(role).value for role in roles_with(right)]
    held = Membership.objects.filter(
        site=site, role__in=roles, ended_at__isnull=True, user__is_active=True
    ).select_related("user")
    named = {row.user_id: str(row.user) for row in held}
    return [
        Person(user_id, name) for user_id, name in sorted(named.items(), key=lambda one: one[1].casefold())
    ]
