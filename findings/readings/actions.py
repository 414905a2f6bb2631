"""Keep readings. Called inside the register's act, which says what they mean and writes the logbook."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from django.db import transaction

from findings.detectors.models import Instrument
from findings.detectors.rules import is_overdue
from findings.plant.models import MeasuringPoint, Site
from findings.readings import queries
from findings.readings.models import Reading
from findings.readings.rules import (
    FUTURE_TOLERANCE,
    Doubt,
    NewReading,
    Problem,
    fingerprint,
    is_storable,
    problems_of,
)
from findings.surveys.models import Survey
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, constraint_refusals

__all__ = [
    "Book",
    "NewReading",
    "ReadingClientIdReused",
    "ReadingCorrectedAlready",
    "ReadingRefused",
    "record",
]

_COPIED = (
    "client_id",
    "point_id",
    "taken_at",
    "kind",
    "medium",
    "level_db",
    "background_db",
    "distance_m",
    "pressure_gauge_pa",
    "temperature_k",
    "hole_diameter_m",
    "edge",
    "flow_m3_per_s",
    "flow_u_m3_per_s",
    "flow_method",
    "severity",
    "pattern",
    "note",
    "attachment",
    "leak_family",
    "air_temperature_k",
    "relative_humidity",
    "band_centre_hz",
    "probe",
    "shaft_speed_hz",
    "load_share",
    "greasing",
    "corrects_id",
)


class ReadingRefused(Invalid):
    """The reading can't be kept as it is."""

    code = "reading_refused"
    title = "The reading can't be kept as it is."


class ReadingClientIdReused(Conflict):
    """The sender's key named another reading before."""

    code = "reading_client_id_reused"
    title = "This client_id names another reading already."


class ReadingCorrectedAlready(Conflict):
    """A reading is corrected once; the correction may be corrected."""

    code = "reading_corrected_already"
    title = "This reading was corrected already; correct the correction."


constraint_refusals.update(
    {
        "reading_client_id_once_per_site": ReadingClientIdReused,
        "reading_corrected_once": ReadingCorrectedAlready,
    }
)


class Spoken(Protocol):
    """What a book needs to know of a reading that arrives or is kept already."""

    @property
    def point_id(self) -> uuid.UUID: ...
    @property
    def instrument_id(self) -> uuid.UUID | None: ...
    @property
    def client_id(self) -> str: ...
    @property
    def corrects_id(self) -> uuid.UUID | None: ...


class Book:
    """Everything that is asked about a batch of readings, read at once. Locks their measuring points.

    The lock makes the readings of one point wait for each other, so that two senders never make two
    findings of one fault. Use it inside a transaction.
    """

    def __init__(self, survey: Survey, items: Sequence[Spoken], at: datetime) -> None:
        self.survey, self.at = survey, at
        self.site = Site.objects.get(pk=survey.site_id)
        self.zone = ZoneInfo(self.site.time_zone)
        mine = {"site_id": survey.site_id}
        points = MeasuringPoint.objects.filter(**mine, pk__in={item.point_id for item in items})
        locked = points.select_related("asset").select_for_update(of=("self",), no_key=True).order_by("pk")
        self.points = {point.pk: point for point in locked}
        instruments = {item.instrument_id for item in items} | {survey.instrument_id}
        self.instruments = Instrument.objects.filter(**mine).in_bulk([pk for pk in instruments if pk])
        self.load_known(items)
        self.last = queries.last_taken(self.points.keys())

    def load_known(self, items: Sequence[Spoken]) -> None:
        """Read which readings of these are kept already, and which they correct."""
        mine = Reading.objects.filter(site_id=self.survey.site_id)
        sent = {item.client_id for item in items if is_storable(item.client_id)}
        self.known = {reading.client_id: reading for reading in mine.filter(client_id__in=sent)}
        self.corrected = mine.in_bulk([item.corrects_id for item in items if item.corrects_id])

    def day(self, moment: datetime) -> date:
        """Return the site's calendar day of a moment."""
        return moment.astimezone(self.zone).date()

    def write(self, item: NewReading) -> tuple[Reading, bool]:
        """Keep one reading, or return the one kept before. Raises ReadingRefused, ReadingClientIdReused."""
        problems = [*problems_of(item), *self._problems(item)]
        if problems:
            errors = [FieldError(f"/{problem.member}", problem.code, problem.text) for problem in problems]
            raise ReadingRefused(errors=errors)
        print_of = fingerprint(item, self.survey.pk)
        known = self.known.get(item.client_id)
        if known is not None:
            if bytes(known.fingerprint) != print_of:
                raise ReadingClientIdReused(existing_id=str(known.pk))
            return known, False
        values: dict[str, Any] = {name: getattr(item, name) for name in _COPIED}
        reading = Reading(
            site_id=self.survey.site_id,
            survey=self.survey,
            instrument_id=item.instrument_id or self.survey.instrument_id,
            fingerprint=print_of,
            recorded_at=self.at,
            as_sent=dict(item.as_sent),
            warnings=[doubt._asdict() for doubt in self._doubts(item)],
            **values,
        )
        reading.point = self.points[item.point_id]
        reading.save(force_insert=True)
        return reading, True

    def keep(self, reading: Reading) -> None:
        """Remember a reading that was written for those that follow in the same batch."""
        self.known[reading.client_id] = reading
        self.corrected[reading.pk] = reading
        spot = (reading.point_id, reading.kind)
        self.last[spot] = max(self.last.get(spot, reading.taken_at), reading.taken_at)

    def is_late(self, reading: NewReading | Reading) -> bool:
        """Tell whether this fault was listened for later already: by its kind, or found quiet."""
        spots = [(reading.point_id, reading.kind), (reading.point_id, "")]
        if not reading.kind:
            spots = [spot for spot in self.last if spot[0] == reading.point_id]
        return any(spot in self.last and self.last[spot] > reading.taken_at for spot in spots)

    def _problems(self, item: NewReading) -> Iterator[Problem]:
        if item.point_id not in self.points:
            yield Problem("point_id", "unknown_reference", "Names nothing here.")
        if item.instrument_id is not None and item.instrument_id not in self.instruments:
            yield Problem("instrument_id", "unknown_reference", "Names nothing here.")
        if item.taken_at > self.at + FUTURE_TOLERANCE:
            yield Problem("taken_at", "taken_in_future", "This lies in the future: check the clock.")
        if item.corrects_id is None:
            return
        wrong = self.corrected.get(item.corrects_id)
        if wrong is None:
            yield Problem("corrects_id", "unknown_reference", "Names nothing here.")
        elif wrong.point_id != item.point_id or wrong.kind != item.kind:
            text = "A correction is of the same measuring point and kind; dismiss a finding that was none."
            yield Problem("corrects_id", "correction_of_another", text)

    def _doubts(self, item: NewReading) -> Iterator[Doubt]:
        point = self.points[item.point_id]
        yield from self._instrument_doubts(item)
        if point.retired_at is not None and item.taken_at >= point.retired_at:
            yield Doubt("point_retired", "The measuring point is retired.")
        gone_at = point.asset.decommissioned_at
        if gone_at is not None and item.taken_at >= gone_at:
            yield Doubt("asset_decommissioned", "The asset is out of service.")
        if (
            item.level_db is not None
            and item.background_db is not None
            and item.level_db < item.background_db
        ):
            yield Doubt("level_below_background", "The level lies below the background.")
        if item.medium and point.medium and item.medium != point.medium:
            yield Doubt("medium_differs", f"The point is registered for {point.medium}.")
        if self._outside_survey(item):
            yield Doubt("outside_survey", "It was taken before the survey began or after it ended.")
        if item.corrects_id is None and self.is_late(item):
            yield Doubt("older_than_last", "A later reading of this point is known already.")

    def _instrument_doubts(self, item: NewReading) -> Iterator[Doubt]:
        instrument = self.instruments.get(item.instrument_id or self.survey.instrument_id)
        if instrument is None:
            yield Doubt("instrument_missing", "It isn't said which instrument took it.")
        elif is_overdue(instrument.calibration_due_on, self.day(item.taken_at)):
            yield Doubt("calibration_overdue", "The instrument's calibration was overdue.")

    def _outside_survey(self, item: NewReading) -> bool:
        ended_at = self.survey.ended_at
        return item.taken_at < self.survey.started_at or (ended_at is not None and item.taken_at > ended_at)


def record(
    *, actor: Actor, at: datetime, survey: Survey, items: Sequence[NewReading]
) -> list[tuple[Reading, bool]]:
    """Keep readings and say of each whether it is new; nothing is concluded from them.

    Raises ReadingRefused for what can't be kept, ReadingClientIdReused for a key with other content.
    """
    del actor  # the act's entry names who; a reading names its survey
    with transaction.atomic():
        book = Book(survey, items, at)
        kept = []
        for item in items:
            reading, created = book.write(item)
            book.keep(reading)
            kept.append((reading, created))
    return kept
