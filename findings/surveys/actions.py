"""Start and end a survey."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F

from findings.logbook import actions as logbook
from findings.surveys.models import Survey
from plantcare.api.actor import Actor
from plantcare.api.etags import stale
from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound, constraint_refusals

CLOCK_TOLERANCE = timedelta(minutes=10)


class SurveyUnknown(NotFound):
    """No such survey."""


class SurveyCodeTaken(Conflict):
    """A survey's code names one walk of a site for ever."""

    code = "survey_code_taken"
    title = "This site has a survey of that code already."


class SurveyEnded(Conflict):
    """The survey ended already."""

    code = "survey_ended"
    title = "The survey has ended."


class SurveyTimeRefused(Invalid):
    """A survey starts and ends in the past, and ends after it started."""

    code = "survey_time_refused"
    title = "The survey's time does not fit."


constraint_refusals["survey_code_once_per_site"] = SurveyCodeTaken


def start_survey(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    code: str,
    started_at: datetime,
    route_id: uuid.UUID | None = None,
    instrument_id: uuid.UUID | None = None,
    inspector_id: int | None = None,
    inspector_name: str = "",
    note: str = "",
) -> Survey:
    """Begin a walk; without an inspector it is the actor's own. Raises SurveyTimeRefused, SurveyCodeTaken."""
    if started_at > at + CLOCK_TOLERANCE:
        raise SurveyTimeRefused(errors=[FieldError("/started_at", "in_future", "This lies in the future.")])
    with transaction.atomic():
        survey = Survey.objects.create(
            site_id=site_id,
            code=code,
            route_id=route_id,
            instrument_id=instrument_id,
            inspector_id=inspector_id if inspector_id is not None else actor.user_id,
            inspector_name=inspector_name or actor.name,
            started_at=started_at,
            note=note,
            created_at=at,
        )
        _log(survey, actor=actor, at=at, act="survey.started")
    return survey


def end_survey(
    *, actor: Actor, at: datetime, survey_id: uuid.UUID, version: int | None = None, ended_at: datetime
) -> Survey:
    """End a walk; readings taken before may still arrive. Raises SurveyEnded, SurveyTimeRefused, 412."""
    with transaction.atomic():
        survey = Survey.objects.filter(pk=survey_id).first()
        if survey is None:
            raise SurveyUnknown
        if survey.ended_at is not None:
            raise SurveyEnded
        if ended_at > at + CLOCK_TOLERANCE:
            raise SurveyTimeRefused(errors=[FieldError("/ended_at", "in_future", "This lies in the future.")])
        if ended_at < survey.started_at:
            text = f"It started at {survey.started_at.isoformat()}."
            raise SurveyTimeRefused(errors=[FieldError("/ended_at", "before_start", text)])
        seen = survey.version if version is None else version
        same = Survey.objects.filter(pk=survey.pk, version=seen, ended_at__isnull=True)
        if not same.update(ended_at=ended_at, version=F("version") + 1):
            raise stale(survey.version)
        survey.refresh_from_db()
        _log(survey, actor=actor, at=at, act="survey.ended")
    return survey


def _log(survey: Survey, *, actor: Actor, at: datetime, act: str) -> None:
    logbook.write(
        site_id=survey.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="survey",
        subject_id=survey.pk,
        subject_version=survey.version,
        detail={"code": survey.code, "started_at": survey.started_at, "ended_at": survey.ended_at},
    )
