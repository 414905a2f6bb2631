"""Read what the plant is made of. A door narrows these rows to the caller's sites."""

from __future__ import annotations

import uuid
from collections.abc import Iterable

from django.db import connection
from django.db.models import QuerySet
from django.db.models.expressions import RawSQL

from findings.plant.models import Area, Asset, MeasuringPoint, Membership, Site
from findings.plant.rules import Role

# UNION, not UNION ALL: the walk ends even if the rows formed a circle.
_SUBTREE = """
WITH RECURSIVE tree AS (
    SELECT id FROM findings_asset WHERE id = %s
    UNION
    SELECT child.id FROM findings_asset child JOIN tree ON child.parent_id = tree.id
)
SELECT id FROM tree
"""
_ANCESTORS = """
WITH RECURSIVE line(id, parent_id, steps) AS (
    SELECT id, parent_id, 0 FROM findings_asset WHERE id = %s
    UNION ALL
    SELECT above.id, above.parent_id, line.steps + 1
    FROM findings_asset above JOIN line ON above.id = line.parent_id
    WHERE line.steps < 100
)
SELECT id FROM line WHERE steps > 0 ORDER BY steps
"""


def sites() -> QuerySet[Site]:
    """Return all sites."""
    return Site.objects.all()


def areas() -> QuerySet[Area]:
    """Return all areas."""
    return Area.objects.all()


def assets() -> QuerySet[Asset]:
    """Return all assets, in service or not."""
    return Asset.objects.all()


def points() -> QuerySet[MeasuringPoint]:
    """Return all measuring points, with their assets."""
    return MeasuringPoint.objects.select_related("asset")


def memberships() -> QuerySet[Membership]:
    """Return all memberships, ended ones too, with their people and sites."""
    return Membership.objects.select_related("user", "site")


def current_memberships(user_id: int) -> list[Membership]:
    """Return what a person is at present, ordered by site and role."""
    held = memberships().filter(user_id=user_id, ended_at__isnull=True, user__is_active=True)
    return list(held.order_by("site__code", "role"))


def members_of(site_id: uuid.UUID, roles: Iterable[Role] = ()) -> QuerySet[Membership]:
    """Return the present memberships of a site, of these roles where any are named."""
    held = memberships().filter(site_id=site_id, ended_at__isnull=True, user__is_active=True)
    wanted = list(roles)
    return held.filter(role__in=wanted) if wanted else held


def subtree(asset_id: uuid.UUID) -> QuerySet[Asset]:
    """Return an asset and everything below it."""
    return Asset.objects.filter(pk__in=RawSQL(_SUBTREE, [asset_id]))  # noqa: S611 - no text of a caller


def asset_subtree_ids(asset_id: uuid.UUID) -> list[uuid.UUID]:
    """Return the ids of an asset and of everything below it."""
    with connection.cursor() as cursor:
        cursor.execute(_SUBTREE, [asset_id])
        return [row[0] for row in cursor.fetchall()]


def ancestors(asset: Asset) -> list[Asset]:
    """Return what an asset is part of, nearest first."""
    with connection.cursor() as cursor:
        cursor.execute(_ANCESTORS, [asset.pk])
        ids = [row[0] for row in cursor.fetchall()]
    found = Asset.objects.in_bulk(ids)
    return [found[pk] for pk in ids]
