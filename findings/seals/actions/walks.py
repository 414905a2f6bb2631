"""Begin a walk along a seam, with the check of its source before anything else."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from django.db import transaction

from findings.logbook import actions as logbook
from findings.physics.tone_source import Criterion, SourceCheck, Strength, check_source
from findings.seals import queries
from findings.seals.actions.finishing import finish
from findings.seals.actions.places import keep_places
from findings.seals.actions.seams import refuse_if
from findings.seals.models import Seam, SeamWalk
from findings.seals.rules import (
    FUTURE_TOLERANCE,
    NewPlace,
    NewWalk,
    Problem,
    fingerprint,
    level_problem,
    range_problem,
)
from plantcare.api.actor import Actor
from plantcare.api.problems import (
    Conflict,
    FieldError,
    Invalid,
    NotFound,
    Unprocessable,
    constraint_refusals,
)


class SeamUnknown(NotFound):
    """No such seam."""


class WalkRefused(Invalid):
    """The walk can't begin as it is described."""

    code = "seam_walk_refused"
    title = "The walk can't begin as it is described."


class SourceTooWeak(Unprocessable):
    """No place could pass; said before anybody walks."""

    code = "tone_source_too_weak"
    title = "The tone source is too weak for this walk: no place can pass."


class WalkClientIdReused(Conflict):
    """The sender's key named another walk before."""

    code = "seam_walk_client_id_reused"
    title = "This client_id names another walk already."


class WalkCorrectedAlready(Conflict):
    """A walk is corrected once; the correction may be corrected."""

    code = "seam_walk_corrected_already"
    title = "This walk was corrected already; correct the correction."


constraint_refusals.update(
    {
        "seam_walk_client_id_once_per_site": WalkClientIdReused,
        "seam_walk_corrected_once": WalkCorrectedAlready,
    }
)


class Begun(NamedTuple):
    """A walk, and whether it was begun now or was known."""

    walk: SeamWalk
    created: bool


def begin_walk(
    *,
    actor: Actor,
    at: datetime,
    seam_id: uuid.UUID,
    walk: NewWalk,
    places: Sequence[NewPlace] = (),
    finished_at: datetime | None = None,
) -> Begun:
    """Begin a walk; with ``places`` and ``finished_at`` it comes whole, as from a phone that had no network.

    The same walk sent again is the same walk: places that are new are added, an unfinished one is finished.
    Raises SeamUnknown, WalkRefused, SourceTooWeak, WalkClientIdReused, and what places and finish raise.
    """
    with transaction.atomic():
        seam = Seam.objects.select_for_update(no_key=True).filter(pk=seam_id).first()
        if seam is None:
            raise SeamUnknown
        known = SeamWalk.objects.filter(site_id=seam.site_id, client_id=walk.client_id).first()
        if known is not None and bytes(known.fingerprint) != fingerprint(walk, seam_id):
            raise WalkClientIdReused(existing_id=str(known.pk))
        row = known or _begun(actor, at, seam, walk)
        if places:
            keep_places(actor=actor, at=at, walk_id=row.pk, places=places)
        if finished_at is not None and queries.result_of_walk(row.pk) is None:
            finish(actor=actor, at=at, walk_id=row.pk, finished_at=finished_at)
    return Begun(queries.walks().get(pk=row.pk), known is None)


def _begun(actor: Actor, at: datetime, seam: Seam, walk: NewWalk) -> SeamWalk:
    refuse_if(WalkRefused, _problems(seam, walk, at))
    check = check_source(walk.open_level_db, walk.background_db, criterion=Criterion(seam.criterion))
    _refuse_weak(check, insist=walk.insist)
    row = SeamWalk.objects.create(
        site_id=seam.site_id,
        seam=seam,
        survey_id=walk.survey_id,
        instrument_id=walk.instrument_id,
        client_id=walk.client_id,
        fingerprint=fingerprint(walk, seam.pk),
        begun_at=walk.begun_at,
        recorded_at=at,
        open_level_db=walk.open_level_db,
        background_db=walk.background_db,
        distance_m=walk.distance_m or seam.distance_m,
        strength=check.strength,
        nothing_can_pass=check.strength is Strength.TOO_WEAK,
        source_reasons=[reason._asdict() for reason in check.reasons],
        note=walk.note,
        corrects_id=walk.corrects_walk_id,
        user_id=actor.user_id,
        actor_name=actor.name[:200],
    )
    logbook.write(
        site_id=row.site_id,
        actor=actor,
        at=at,
        act="seam_walk.begun",
        subject_kind="seam_walk",
        subject_id=row.pk,
        detail={
            "seam_id": seam.pk,
            "begun_at": row.begun_at,
            "strength": row.strength,
            "nothing_can_pass": row.nothing_can_pass,
            "corrects_walk_id": row.corrects_id,
        },
    )
    return row


def _problems(seam: Seam, walk: NewWalk, at: datetime) -> list[Problem]:
    found = level_problem("open_level_db", walk.open_level_db)
    found += level_problem("background_db", walk.background_db)
    found += range_problem("distance_m", walk.distance_m)
    if not walk.client_id.strip():
        found.append(Problem("client_id", "required", "Every walk has the sender's own key."))
    if walk.begun_at > at + FUTURE_TOLERANCE:
        found.append(Problem("begun_at", "in_future", "This lies in the future: check the clock."))
    holding = queries.seam_at(seam.point_id, walk.begun_at)
    if holding is None or holding.pk != seam.pk:
        text = "At that moment another description of this seam held, or none yet."
        found.append(Problem("seam_id", "seam_not_in_force", text))
    if walk.corrects_walk_id is not None:
        wrong = SeamWalk.objects.select_related("seam").filter(pk=walk.corrects_walk_id).first()
        if wrong is None or wrong.seam.point_id != seam.point_id:
            found.append(Problem("corrects_walk_id", "other_seam", "That walk was none along this seam."))
    return found


def _refuse_weak(check: SourceCheck, *, insist: bool) -> None:
    """Refuse levels that can't be checked, and a source too weak unless the person insists."""
    said = " ".join(reason.text for reason in check.reasons)
    if check.strength is Strength.NOT_DETERMINED:
        errors = [FieldError("/open_level_db", reason.code, reason.text) for reason in check.reasons]
        raise WalkRefused(said, errors=errors)
    if check.strength is Strength.TOO_WEAK and not insist:
        text = f"{said} Send insist to walk all the same: places can then only fail."
        raise SourceTooWeak(
            text,
            strength=check.strength.value,
            margin_db=check.margin.value,
            limit_level_db=check.limit_level_db,
        )
