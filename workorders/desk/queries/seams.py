"""Seams and walks as the pages show them."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.utils.safestring import SafeString

from findings.detectors.models import Instrument
from findings.plant.models import Site
from findings.seals import queries as seals
from findings.seals.models import Seam, SeamPlace, SeamResult, SeamWalk
from findings.seals.rules import SeamForm, next_place_m

MOST_SEAMS = 500


@dataclass(frozen=True, slots=True)
class SeamShown:
    """A seam with the walk begun on it last, if there was one."""

    seam: Seam
    last: SeamWalk | None


@dataclass(frozen=True, slots=True)
class WalkShown:
    """A walk with its places; the result and its plan once it is finished, the next place until then."""

    walk: SeamWalk
    places: list[SeamPlace]
    result: SeamResult | None
    plan: SafeString
    next_m: float | None


def seams_of(site: Site, at: datetime) -> list[SeamShown]:
    """Return the seams that hold now, by point, each with its last walk (two queries)."""
    found = list(seals.seams_in_force(at).filter(site=site).order_by("point__code")[:MOST_SEAMS])
    walks = seals.walks().filter(seam__point_id__in=[seam.point_id for seam in found])
    newest = walks.order_by("seam__point_id", "-begun_at", "-id").distinct("seam__point_id")
    last = {walk.seam.point_id: walk for walk in newest}
    return [SeamShown(seam, last.get(seam.point_id)) for seam in found]


def seam_seen(seam_id: uuid.UUID, site_ids: Collection[uuid.UUID]) -> Seam | None:
    """Return one seam of these sites, or None."""
    return seals.seams().filter(pk=seam_id, site_id__in=list(site_ids)).first()


def seam_now(point_id: uuid.UUID, at: datetime) -> Seam | None:
    """Return how a point's seam is tested now, if it is."""
    return seals.seam_at(point_id, at)


def walk_seen(walk_id: uuid.UUID, site_ids: Collection[uuid.UUID]) -> SeamWalk | None:
    """Return one walk of these sites, or None."""
    return seals.walks().filter(pk=walk_id, site_id__in=list(site_ids)).first()


def shown(walk: SeamWalk) -> WalkShown:
    """Return a walk with all that belongs to it."""
    places, result = seals.places_of(walk.pk), seals.result_of_walk(walk.pk)
    # Our own drawing: every text in it is escaped where it is drawn.
    plan = SafeString("" if result is None else seals.plan_of(walk, result))
    ring = walk.seam.shape == SeamForm.RING
    heard = [place.position_m for place in places]
    return WalkShown(walk, places, result, plan, next_place_m(heard, walk.seam.length_m, ring=ring))


def last_walk_at(point_id: uuid.UUID) -> WalkShown | None:
    """Return the newest finished walk at a measuring point."""
    walk = seals.walks_of_points([point_id]).first()
    return None if walk is None else shown(walk)


def instruments_of(site: Site) -> list[tuple[str, str]]:
    """Return the detectors in use at a site as a form offers them."""
    found = Instrument.objects.filter(site=site, retired_on__isnull=True).order_by("code")
    return [(str(one.pk), f"{one.code} {one.name}") for one in found]
