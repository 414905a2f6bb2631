"""Add calibration leaks and void wrong ones; rows are never changed otherwise."""

from __future__ import annotations

import uuid
from dataclasses import asdict
from datetime import datetime

from django.db import transaction

from findings.calibration.models import CalibrationLeak
from findings.calibration.rules import NewLeak, normalised, problems_of
from findings.detectors.models import Instrument
from findings.logbook import actions as logbook
from findings.logbook.actions import Act
from findings.plant import actions as plant
from findings.readings.models import Reading
from findings.readings.rules import FUTURE_TOLERANCE, Problem
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, NotFound

CORRECTED = "the reading was corrected"


class CalibrationLeakRefused(Invalid):
    """The leak can't teach the instrument anything."""

    code = "calibration_leak_refused"
    title = "This leak can't teach the instrument anything."


class CalibrationLeakVoid(Conflict):
    """A leak is voided once."""

    code = "calibration_leak_void"
    title = "This calibration leak is void already."


def add_calibration_leak(
    *, actor: Actor, at: datetime, instrument_id: uuid.UUID, leak: NewLeak
) -> CalibrationLeak:
    """Add a leak that was heard and measured on purpose. Raises NotFound, CalibrationLeakRefused."""
    with transaction.atomic():
        instrument = Instrument.objects.select_related("site").filter(pk=instrument_id).first()
        if instrument is None:
            raise NotFound
        problems = problems_of(leak)
        if leak.taken_at > at + FUTURE_TOLERANCE:
            problems.append(
                Problem("taken_at", "taken_in_future", "This lies in the future: check the clock.")
            )
        row = None
        if not problems:
            air_pressure_pa = instrument.site.atmosphere_pa
            row, problems = _row(instrument.site_id, instrument.pk, leak, air_pressure_pa, at)
        if row is None:
            errors = [FieldError(f"/{one.member}", one.code, one.text) for one in problems]
            raise CalibrationLeakRefused(errors=errors)
        row.save(force_insert=True)
        logbook.write_many(site_id=row.site_id, actor=actor, at=at, acts=[added(row)])
    return row


def learn(*, at: datetime, reading: Reading, leak: NewLeak, air_pressure_pa: float) -> CalibrationLeak | None:
    """Add the leak that a reading heard and measured at once; None where it can teach nothing.

    Called inside the register's act, which writes the logbook.
    """
    if reading.instrument_id is None or problems_of(leak):
        return None
    row, _ = _row(reading.site_id, reading.instrument_id, leak, air_pressure_pa, at)
    if row is None:
        return None
    row.reading = reading
    row.save(force_insert=True)
    return row


def unlearn(*, at: datetime, reading_id: uuid.UUID) -> CalibrationLeak | None:
    """Void the leak that came from a reading which was wrong; None where there is none that stands.

    Called inside the register's act, which writes the logbook.
    """
    standing = CalibrationLeak.objects.filter(reading_id=reading_id, void_at__isnull=True)
    leak = standing.first()
    if leak is None or not standing.update(void_at=at, void_reason=CORRECTED):
        return None
    leak.refresh_from_db()
    return leak


def void_calibration_leak(*, actor: Actor, at: datetime, leak_id: uuid.UUID, reason: str) -> CalibrationLeak:
    """Void a leak: from now on no fit rests on it.

    Raises NotFound, Invalid without a reason, CalibrationLeakVoid.
    """
    told = plant.check_reason(reason)
    with transaction.atomic():
        leak = plant.void_row(CalibrationLeak, leak_id, at=at, reason=told, already=CalibrationLeakVoid)
        logbook.write_many(site_id=leak.site_id, actor=actor, at=at, acts=[voided(leak)])
    return leak


def added(leak: CalibrationLeak) -> Act:
    """Return what the logbook says of a new leak."""
    return _act("calibration_leak.added", leak)


def voided(leak: CalibrationLeak) -> Act:
    """Return what the logbook says of a void leak."""
    return _act("calibration_leak.voided", leak, leak.void_reason)


def _act(act: str, leak: CalibrationLeak, reason: str = "") -> Act:
    told = ("instrument_id", "reading_id", "attachment", "gas", "leak_family", "taken_at", "flow_m3_per_s")
    return Act(
        act=act,
        subject_kind="calibration_leak",
        subject_id=leak.pk,
        reason=reason,
        detail={
            **{name: getattr(leak, name) for name in told},
            "level_at_1_m_db": leak.normalised_level_db,
        },
    )


def _row(
    site_id: uuid.UUID, instrument_id: uuid.UUID, leak: NewLeak, air_pressure_pa: float, at: datetime
) -> tuple[CalibrationLeak | None, list[Problem]]:
    """Return the row that is to be written, its level brought to 1 m, or why it can't be brought there."""
    level, problems = normalised(leak, air_pressure_pa)
    if level is None:
        return None, problems
    values = asdict(leak)
    del values["pressure_gauge_pa"]
    row = CalibrationLeak(
        site_id=site_id,
        instrument_id=instrument_id,
        air_pressure_pa=air_pressure_pa,
        normalised_level_db=level,
        pressure_ratio=leak.pressure_ratio(air_pressure_pa),
        recorded_at=at,
        **values,
    )
    return row, []
