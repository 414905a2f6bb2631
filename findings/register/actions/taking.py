"""Take readings: keep each one, and say what it means for the findings at its measuring point."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import DataError, IntegrityError, transaction

from findings.conditions.models import Condition
from findings.kinds.base import Kind
from findings.logbook import actions as logbook
from findings.logbook.actions import Act
from findings.readings.actions import Book, NewReading
from findings.readings.models import Reading
from findings.register.actions import correcting, hearing, levels, wear
from findings.register.actions.casefile import Casefile, Draft, Outcome
from findings.register.models import Finding
from findings.register.rules import medium_of
from findings.routes import actions as routes
from findings.surveys.models import Survey
from plantcare.api.actor import Actor
from plantcare.api.failures import refusal_of
from plantcare.api.problems import FieldError, NotFound, Refusal, Unprocessable

_RACES = frozenset({"finding_open_once_per_point_and_kind", "reading_client_id_once_per_site"})
"""Somebody else wrote the same fault or reading in the same moment: read again, and attach."""

MOST_AT_ONCE = 500


class SurveyUnknown(NotFound):
    """No such survey."""


class ReadingsRefused(Unprocessable):
    """All or nothing was asked for, and not all readings can be kept."""

    code = "batch_refused"
    title = "Nothing was kept: at least one reading was refused."


class TooManyReadings(Unprocessable):
    """A batch holds a bounded number of readings."""

    code = "too_many_readings"
    title = f"At most {MOST_AT_ONCE} readings in one batch."


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What became of one reading: kept anew or known before, the finding it speaks for, what was judged."""

    reading: Reading
    created: bool
    finding: Finding | None
    outcome: Outcome
    condition: Condition | None = None


def take_readings(
    *,
    actor: Actor,
    at: datetime,
    survey_id: uuid.UUID,
    items: Sequence[NewReading],
    all_or_nothing: bool = True,
) -> list[Taken | Refusal]:
    """Keep readings in one transaction and return, in the order given, what became of each.

    A refused reading is returned as its refusal and sinks no other, unless all or nothing was asked
    for. Readings are concluded from in the order they were taken. Raises SurveyUnknown,
    TooManyReadings, ReadingsRefused.
    """
    if len(items) > MOST_AT_ONCE:
        raise TooManyReadings
    with transaction.atomic():
        survey = Survey.objects.filter(pk=survey_id).first()
        if survey is None:
            raise SurveyUnknown
        casefile = Casefile(Book(survey, items, at), at)
        results: dict[int, Taken | Refusal] = {}
        acts: list[Act] = []
        for index in sorted(range(len(items)), key=lambda i: items[i].taken_at):
            results[index] = _take(casefile, items[index], acts)
        _refuse_if_any(all_or_nothing, results)
        casefile.close()
        logbook.write_many(site_id=survey.site_id, actor=actor, at=at, acts=acts)
    return [results[index] for index in range(len(items))]


def take_reading(*, actor: Actor, at: datetime, survey_id: uuid.UUID, item: NewReading) -> Taken:
    """Keep one reading. Raises what refuses it."""
    taken = take_readings(actor=actor, at=at, survey_id=survey_id, items=[item], all_or_nothing=False)[0]
    if isinstance(taken, Refusal):
        raise taken
    return taken


def _take(casefile: Casefile, item: NewReading, acts: list[Act]) -> Taken | Refusal:
    try:
        try:
            return _attempt(casefile, item, acts)
        except IntegrityError as exc:
            if _constraint(exc) not in _RACES:
                raise
            casefile.book.load_known([item])
            casefile.reload([item.point_id])
            return _attempt(casefile, item, acts)
    except (Refusal, IntegrityError, DataError) as exc:
        refusal = refusal_of(exc)
        if refusal.status >= 500:
            raise
        # What was changed in memory only has been rolled back in the database.
        casefile.reload([item.point_id] if item.point_id in casefile.book.points else [])
        return refusal


def _attempt(casefile: Casefile, item: NewReading, acts: list[Act]) -> Taken:
    draft = Draft()
    with transaction.atomic():
        reading, created = casefile.book.write(item)
        if not created:
            return _known(casefile, reading)
        condition = wear.judged(casefile, reading)
        if reading.corrects_id is None:
            kind = wear.contradicted(reading, condition)
            finding, outcome = hearing.conclude(casefile, reading, draft, kind=kind)
        else:
            wrong = casefile.book.corrected[reading.corrects_id]
            finding, outcome = correcting.correct(casefile, reading, wrong, draft)
        if condition is not None:
            finding = wear.follow(casefile, reading, condition, finding, draft)
        draft.acts += _taught(casefile, reading)
        on = casefile.book.day(reading.taken_at)
        routes.visit_done(site_id=reading.site_id, point_id=reading.point_id, reading_id=reading.pk, on=on)
    casefile.book.keep(reading)
    casefile.keep_numbers(draft)
    acts.append(_act_of(reading, finding, outcome, condition))
    acts.extend(draft.acts)
    return Taken(reading=reading, created=True, finding=finding, outcome=outcome, condition=condition)


def _taught(casefile: Casefile, reading: Reading) -> list[Act]:
    """Let the reading teach its instrument, and take back what the reading that it corrects taught."""
    point = casefile.book.points[reading.point_id]
    acts = []
    if reading.corrects_id is not None:
        acts += levels.untaught_by(casefile.book.corrected[reading.corrects_id], casefile.at)
    if reading.kind == Kind.PRESSURE_LEAK:
        medium = medium_of(Kind(reading.kind), reading.medium, point.medium)
        acts += levels.taught_by(reading, casefile.around(point.asset_id, medium), casefile.at)
    return acts


def _known(casefile: Casefile, reading: Reading) -> Taken:
    """Return what a reading that was sent again came to the first time."""
    finding, condition = _finding_of(casefile, reading), wear.known_word(reading)
    return Taken(reading=reading, created=False, finding=finding, outcome="known", condition=condition)


def _finding_of(casefile: Casefile, reading: Reading) -> Finding | None:
    return next((finding for finding, _ in casefile.of_reading(reading.pk)), None)


def _act_of(reading: Reading, finding: Finding | None, outcome: str, condition: Condition | None) -> Act:
    detail = {
        "point_id": reading.point_id,
        "taken_at": reading.taken_at,
        "kind": reading.kind,
        "outcome": outcome,
        "finding_id": None if finding is None else finding.pk,
        "corrects_id": reading.corrects_id,
        **wear.said(reading, condition),
    }
    return Act(act="reading.taken", subject_kind="reading", subject_id=reading.pk, detail=detail)


def _refuse_if_any(all_or_nothing: bool, results: dict[int, Taken | Refusal]) -> None:
    if not all_or_nothing:
        return
    errors = []
    for index, result in sorted(results.items()):
        if isinstance(result, Refusal):
            at = f"/items/{index}"
            inner = [FieldError(at + e.pointer, e.code, e.detail) for e in result.errors]
            errors += inner or [FieldError(at, result.code, result.detail)]
    if errors:
        raise ReadingsRefused(errors=errors)


def _constraint(exc: IntegrityError) -> str | None:
    return getattr(getattr(exc.__cause__, "diag", None), "constraint_name", None)
