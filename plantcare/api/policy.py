"""Who may do what where, as the plumbing sees it: opaque rights, opaque sites."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Protocol, cast

from django.conf import settings
from django.db.models import QuerySet
from django.utils.module_loading import import_string

from plantcare.api.actor import Actor
from plantcare.api.problems import Forbidden

# The need of a door that every signed-in caller may use, whatever the roles.
SIGNED_IN = "*"
# The need of the documentation, which nobody has to sign in for.
EVERYONE = "everyone"


class AccessPolicy(Protocol):
    """What settings.PLANTCARE_ACCESS_POLICY has to offer (a dotted path to such an object)."""

    def narrow(
        self,
        actor: Actor,
        right: str,
        queryset: QuerySet[Any],
        site_field: str = "site_id",
    ) -> QuerySet[Any]:
        """Return only the rows of sites on which the actor holds the right."""
        ...

    def require(self, actor: Actor, right: str, site_id: uuid.UUID) -> None:
        """Raise NotFound for a site the actor can't see, Forbidden when only the right is missing."""
        ...

    def sites(self, actor: Actor, right: str) -> list[uuid.UUID] | None:
        """Return the sites on which the actor holds the right; None means all of them."""
        ...

    def all_sites(self) -> list[uuid.UUID]:
        """Return every site there is, for work that nobody asked for."""
        ...

    def time_zones(self) -> Mapping[uuid.UUID, str]:
        """Return every site's time zone, for work about a site's own day."""
        ...


@lru_cache(maxsize=4)
def _load(path: str) -> AccessPolicy:
    return cast(AccessPolicy, import_string(path))


def access_policy() -> AccessPolicy:
    """Return the policy that the settings name."""
    return _load(settings.PLANTCARE_ACCESS_POLICY)


def require_on(actor: Actor, right: str, site_id: uuid.UUID | None) -> None:
    """Refuse unless the right is held on the site, or, without a site, on any site at all."""
    if right == SIGNED_IN:
        return
    if site_id is not None:
        access_policy().require(actor, right, site_id)
    elif access_policy().sites(actor, right) == []:
        raise Forbidden
