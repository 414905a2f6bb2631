"""Keep what was heard at places along a seam."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from django.db import transaction

from findings.logbook import actions as logbook
from findings.seals.models import SeamPlace, SeamResult, SeamWalk
from findings.seals.rules import MOST_PLACES, NewPlace, fingerprint, place_problems
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound, constraint_refusals


class WalkUnknown(NotFound):
    """No such walk."""


class WalkFinished(Conflict):
    """What a walk came to stands; a new walk may correct it."""

    code = "seam_walk_finished"
    title = "The walk is finished. A new walk may correct it."


class PlacesRefused(Invalid):
    """The places can't be kept as they are; none was kept."""

    code = "seam_places_refused"
    title = "The places can't be kept as they are; none was kept."


class PlaceClientIdReused(Conflict):
    """The sender's key named another place of this walk before."""

    code = "seam_place_client_id_reused"
    title = "This client_id names another place of this walk already."


constraint_refusals.update(
    {
        "seam_walk_finished_once": WalkFinished,
        "seam_place_of_a_finished_walk": WalkFinished,
        "seam_place_client_id_once_per_walk": PlaceClientIdReused,
    }
)


class Kept(NamedTuple):
    """How many places were new, and how many were known."""

    created: int
    known: int


def take_places(*, actor: Actor, at: datetime, walk_id: uuid.UUID, places: Sequence[NewPlace]) -> Kept:
    """Keep places of a walk, all or none; a place sent again is the same place.

    Raises WalkUnknown, WalkFinished, PlacesRefused, PlaceClientIdReused.
    """
    with transaction.atomic():
        return keep_places(actor=actor, at=at, walk_id=walk_id, places=places)


def keep_places(*, actor: Actor, at: datetime, walk_id: uuid.UUID, places: Sequence[NewPlace]) -> Kept:
    """Keep places inside another act's transaction; see ``take_places``."""
    if len(places) > MOST_PLACES:
        raise _too_many()
    walk = locked_walk(walk_id)
    known = dict(SeamPlace.objects.filter(walk=walk).values_list("client_id", "fingerprint"))
    new: dict[str, SeamPlace] = {}
    errors: list[FieldError] = []
    for index, place in enumerate(places):
        own = fingerprint(place, walk.pk)
        before = new[place.client_id].fingerprint if place.client_id in new else known.get(place.client_id)
        if before is not None:
            if bytes(before) != own:
                raise PlaceClientIdReused(
                    errors=[FieldError(f"/places/{index}/client_id", "reused", place.client_id)]
                )
            continue
        errors += [
            FieldError(f"/places/{index}/{problem.member}", problem.code, problem.text)
            for problem in place_problems(place, walk.seam.length_m)
        ]
        new[place.client_id] = _row(walk, place, own, at)
    if errors:
        raise PlacesRefused(errors=errors)
    if new:
        _add(walk, list(new.values()), len(known), actor, at)
    return Kept(len(new), len(places) - len(new))


def locked_walk(walk_id: uuid.UUID) -> SeamWalk:
    """Return a walk, locked: its places and its end wait for each other. Raises WalkUnknown."""
    rows = SeamWalk.objects.select_related("seam__point").select_for_update(of=("self",), no_key=True)
    walk = rows.filter(pk=walk_id).first()
    if walk is None:
        raise WalkUnknown
    return walk


def _row(walk: SeamWalk, place: NewPlace, own: bytes, at: datetime) -> SeamPlace:
    return SeamPlace(
        site_id=walk.site_id,
        walk=walk,
        client_id=place.client_id,
        fingerprint=own,
        position_m=place.position_m,
        level_db=place.level_db,
        background_db=place.background_db,
        note=place.note,
        recorded_at=at,
    )


def _add(walk: SeamWalk, rows: list[SeamPlace], known: int, actor: Actor, at: datetime) -> None:
    """Write new places. Raises WalkFinished, PlacesRefused above the most that a walk holds."""
    if SeamResult.objects.filter(walk=walk).exists():
        raise WalkFinished
    if known + len(rows) > MOST_PLACES:
        raise _too_many()
    SeamPlace.objects.bulk_create(rows)
    logbook.write(
        site_id=walk.site_id,
        actor=actor,
        at=at,
        act="seam_walk.places_taken",
        subject_kind="seam_walk",
        subject_id=walk.pk,
        detail={"places": len(rows), "together": known + len(rows)},
    )


def _too_many() -> PlacesRefused:
    text = f"A walk has at most {MOST_PLACES} places."
    return PlacesRefused(errors=[FieldError("/places", "too_many", text)])
