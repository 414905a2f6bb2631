"""Finish a walk: judge it once, take its one reading, and let the register hear its condition."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from django.db import transaction

from findings.conditions import actions as conditions
from findings.kinds.base import Kind
from findings.logbook import actions as logbook
from findings.physics.seal_test import METHOD, VERSION, SealResult
from findings.readings.actions import NewReading
from findings.readings.models import Reading
from findings.register import actions as register
from findings.register.actions.conditions import consider
from findings.seals import queries
from findings.seals.actions.places import WalkFinished, locked_walk
from findings.seals.models import SeamResult, SeamWalk
from findings.seals.rules import (
    FUTURE_TOLERANCE,
    SeamForm,
    condition_of,
    is_fault,
    judged_from,
    result_of,
    told,
    worst_place,
)
from findings.surveys import actions as surveys
from findings.surveys.models import Survey
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, Unprocessable


class WalkNotJudged(Unprocessable):
    """The walk can't be judged yet; it stays open for more places."""

    code = "seam_walk_not_judged"
    title = "The walk can't be judged yet."


class WalkCorrected(Conflict):
    """A walk that another one corrects isn't finished any more."""

    code = "seam_walk_corrected"
    title = "Another walk corrects this one; finish that one."


class FinishMomentRefused(Invalid):
    """A walk ends after it began, and not ahead of the clock."""

    code = "seam_walk_time_refused"
    title = "The walk's end does not fit."


def finish_walk(*, actor: Actor, at: datetime, walk_id: uuid.UUID, finished_at: datetime) -> SeamResult:
    """Judge a walk from its places and let the register know, in one transaction.

    Raises WalkUnknown, WalkFinished, WalkCorrected, WalkNotJudged, FinishMomentRefused.
    """
    with transaction.atomic():
        return finish(actor=actor, at=at, walk_id=walk_id, finished_at=finished_at)


def finish(*, actor: Actor, at: datetime, walk_id: uuid.UUID, finished_at: datetime) -> SeamResult:
    """Finish a walk inside another act's transaction; see ``finish_walk``."""
    walk = locked_walk(walk_id)
    if queries.result_of_walk(walk_id) is not None:
        raise WalkFinished
    if queries.corrected_by(walk_id) is not None:
        raise WalkCorrected
    _check_moment(walk, finished_at, at)
    inputs = _inputs(walk)
    judged = result_of(inputs)
    if not judged.points:
        errors = [FieldError("/places", reason.code, reason.text) for reason in judged.reasons]
        raise WalkNotJudged(" ".join(reason.text for reason in judged.reasons), errors=errors)
    reading = _read(walk, judged, inputs, actor, at, finished_at)
    result = _kept(walk, judged, inputs, reading, actor, at, finished_at)
    found = condition_of(judged, inputs)
    condition = conditions.keep(found, reading=reading, at=finished_at, recorded_at=at)
    consider(actor=actor, at=at, condition=condition)
    logbook.write(
        site_id=walk.site_id,
        actor=actor,
        at=at,
        act="seam_walk.finished",
        subject_kind="seam_walk",
        subject_id=walk.pk,
        detail={
            "verdict": result.verdict,
            "places": len(result.places),
            "leaks": len(result.leaks),
            "reading_id": reading.pk,
        },
    )
    return result


def _check_moment(walk: SeamWalk, finished_at: datetime, at: datetime) -> None:
    if finished_at > at + FUTURE_TOLERANCE:
        text = "This lies in the future: check the clock."
        raise FinishMomentRefused(errors=[FieldError("/finished_at", "in_future", text)])
    if finished_at < walk.begun_at:
        text = f"It began at {walk.begun_at.isoformat()}."
        raise FinishMomentRefused(errors=[FieldError("/finished_at", "before_start", text)])


def _inputs(walk: SeamWalk) -> dict[str, Any]:
    places = queries.places_of(walk.pk)
    return judged_from(
        length_m=walk.seam.length_m,
        ring=walk.seam.shape == SeamForm.RING,
        criterion=walk.seam.criterion,
        open_level_db=walk.open_level_db,
        background_db=walk.background_db,
        places=[(place.position_m, place.level_db, place.background_db) for place in places],
    )


def _read(
    walk: SeamWalk,
    judged: SealResult,
    inputs: dict[str, Any],
    actor: Actor,
    at: datetime,
    finished_at: datetime,
) -> Reading:
    """Take the walk's one reading: the loudest place, by name a fault only where one was found."""
    position_m, level_db, background_db = worst_place(inputs)
    kind = Kind.ENCLOSURE_LEAK if is_fault(judged) else ""
    wrong = queries.result_of_walk(walk.corrects_id) if walk.corrects_id is not None else None
    note = f"Walk along the seam: {judged.verdict.value.replace('_', ' ')}; loudest at {position_m:.2f} m."
    return register.take_reading(
        actor=actor,
        at=at,
        survey_id=(walk.survey or _own_survey(walk, actor, at, finished_at)).pk,
        item=NewReading(
            client_id=f"seam-walk-{walk.pk}",
            point_id=walk.seam.point_id,
            taken_at=finished_at,
            kind=kind,
            instrument_id=walk.instrument_id,
            level_db=level_db,
            background_db=background_db,
            distance_m=walk.distance_m,
            pattern=judged.verdict.value,
            note=note,
            # A correction is of one kind with what it corrects; whether a finding was none, a person says.
            corrects_id=wrong.reading_id if wrong is not None and wrong.reading.kind == kind else None,
        ),
    ).reading


def _own_survey(walk: SeamWalk, actor: Actor, at: datetime, finished_at: datetime) -> Survey:
    """Return a survey for a walk that belongs to none: a reading is always one of a survey."""
    survey = surveys.start_survey(
        actor=actor,
        at=at,
        site_id=walk.site_id,
        code=f"seam-{walk.pk}",
        started_at=walk.begun_at,
        instrument_id=walk.instrument_id,
        inspector_id=walk.user_id,
        inspector_name=walk.actor_name,
    )
    return surveys.end_survey(actor=actor, at=at, survey_id=survey.pk, ended_at=finished_at)


def _kept(
    walk: SeamWalk,
    judged: SealResult,
    inputs: dict[str, Any],
    reading: Reading,
    actor: Actor,
    at: datetime,
    finished_at: datetime,
) -> SeamResult:
    figures = told(inputs, judged)
    return SeamResult.objects.create(
        site_id=walk.site_id,
        walk=walk,
        reading=reading,
        verdict=judged.verdict,
        method=METHOD,
        method_version=VERSION,
        **_figures(judged),
        places=figures.places,
        leaks=figures.leaks,
        gaps=figures.gaps,
        inputs=inputs,
        reasons=[reason._asdict() for reason in judged.reasons],
        finished_at=finished_at,
        recorded_at=at,
        user_id=actor.user_id,
        actor_name=actor.name[:200],
    )


def _figures(judged: SealResult) -> dict[str, Any]:
    """Return the figures of a walk that has points: none of them is missing."""
    return {
        "smallest_drop_db": judged.smallest_drop.value,
        "smallest_drop_u_db": judged.smallest_drop.u,
        "limit_level_db": judged.source.limit_level_db,
        "intact_level_db": judged.intact_level_db,
        "excess_rule_used": judged.excess_rule_used,
    }
