"""Make, change and calibrate instruments."""

from __future__ import annotations

import uuid
from datetime import date, datetime
from typing import Any, TypedDict, Unpack

from django.db import transaction

from findings.detectors.models import Instrument
from findings.logbook import actions as logbook
from findings.plant import actions as plant
from findings.plant.rules import local_day
from plantcare.api import versions
from plantcare.api.actor import Actor
from plantcare.api.problems import NotFound

plant.code_constraint("instrument_code_once_per_site")


class InstrumentChanges(TypedDict, total=False):
    """What may change about an instrument; its calibration is an act of its own."""

    code: str
    name: str
    serial: str
    scale: str
    retired_on: date | None


def add_instrument(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    code: str,
    name: str,
    serial: str = "",
    scale: str = "relative",
    calibration_due_on: date | None = None,
    calibration_certificate: str = "",
) -> Instrument:
    """Make an instrument. Raises SiteUnknown, Invalid, CodeTaken."""
    with transaction.atomic():
        site = plant.site_of(site_id)
        instrument = Instrument.objects.create(
            site=site,
            code=plant.free_code(Instrument.objects.filter(site=site), code),
            name=plant.named(name),
            serial=serial.strip(),
            scale=_scale(scale),
            calibration_due_on=calibration_due_on,
            calibration_certificate=calibration_certificate.strip(),
            created_at=at,
        )
        detail = {"code": instrument.code, "serial": instrument.serial}
        _log(instrument, actor, at, "instrument.added", detail)
    return instrument


def change_instrument(
    *,
    actor: Actor,
    at: datetime,
    instrument_id: uuid.UUID,
    version: int | None = None,
    **changes: Unpack[InstrumentChanges],
) -> Instrument:
    """Change or retire an instrument. Raises NotFound, Invalid, CodeTaken, PreconditionFailed."""
    with transaction.atomic():
        instrument = _one(instrument_id)
        if "code" in changes:
            others = Instrument.objects.filter(site_id=instrument.site_id).exclude(pk=instrument.pk)
            changes["code"] = plant.free_code(others, changes["code"])
        if "name" in changes:
            changes["name"] = plant.named(changes["name"])
        if "scale" in changes:
            changes["scale"] = _scale(changes["scale"])
        changed = versions.change(instrument, version, changes)
        if changed:
            _log(instrument, actor, at, "instrument.changed", {"changed": changed})
    return instrument


def record_calibration(
    *,
    actor: Actor,
    at: datetime,
    instrument_id: uuid.UUID,
    calibration_due_on: date,
    certificate: str,
    version: int | None = None,
) -> Instrument:
    """Record a calibration and the day until which it holds.

    Raises NotFound, PreconditionFailed, and Invalid without a certificate or for a day that is over.
    """
    with transaction.atomic():
        instrument = _one(instrument_id)
        if not certificate.strip():
            plant.refuse("/certificate", "blank", "Name the certificate.")
        if calibration_due_on < local_day(at, instrument.site.time_zone):
            plant.refuse("/calibration_due_on", "in_past", "The day until which it holds is over.")
        values = {"calibration_due_on": calibration_due_on, "calibration_certificate": certificate.strip()}
        changed = versions.change(instrument, version, values)
        if changed:
            _log(instrument, actor, at, "instrument.calibrated", {"changed": changed})
    return instrument


def _one(instrument_id: uuid.UUID) -> Instrument:
    instrument = Instrument.objects.select_related("site").filter(pk=instrument_id).first()
    if instrument is None:
        raise NotFound
    return instrument


def _scale(scale: str) -> str:
    if scale not in Instrument.Scale.values:
        plant.refuse("/scale", "invalid_choice", f"One of {', '.join(Instrument.Scale.values)}.")
    return scale


def _log(instrument: Instrument, actor: Actor, at: datetime, act: str, detail: Any) -> None:
    logbook.write(
        site_id=instrument.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="instrument",
        subject_id=instrument.pk,
        subject_version=instrument.version,
        detail=detail,
    )
