"""What a reading's level says of a leak's flow, and what a measured leak teaches its instrument."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from findings.calibration import actions as calibration
from findings.calibration import queries as calibrated
from findings.calibration.rules import AIRBORNE, NewLeak, Setup
from findings.kinds.base import Kind, Medium
from findings.kinds.level_evidence import LevelEvidence, flow_from_level
from findings.kinds.pressure_leak import gas_of
from findings.logbook.actions import Act
from findings.physics.estimate import Estimate, Reason, refused
from findings.physics.jet_noise import DETECTOR_FREQUENCY_HZ
from findings.physics.level_form import VERSION, LeakFamily
from findings.physics.level_model import METHOD, NotFittable
from findings.readings.models import Reading
from findings.register.actions.evidence import Surroundings


def level_estimate(reading: Reading, around: Surroundings) -> Estimate | None:
    """Return the flow in m³/s (1 bar, 20 °C, dry) that a pressure leak's level tells; None without a level.

    The model is what the instrument had been taught by the moment of the reading. What is missing is
    said in a refusal.
    """
    if reading.level_db is None:
        return None
    instrument, gas = reading.instrument, _gas(around)
    missing = _missing(reading, gas)
    if missing or instrument is None or gas is None:
        return _refusal(*missing)
    setup = Setup(reading.attachment, gas, _family(reading))
    try:
        model = calibrated.model_at(instrument, setup, reading.taken_at)
    except NotFittable as nothing:
        return _refusal(nothing.reason)
    evidence = _evidence(reading, reading.level_db, around, setup)
    return flow_from_level(replace(evidence, absolute_scale=calibrated.is_absolute(instrument)), model)


def taught_by(reading: Reading, around: Surroundings, at: datetime) -> list[Act]:
    """Let a reading that heard and measured a leak teach its instrument; return what the logbook says."""
    leak = _lesson(reading, around)
    if leak is None:
        return []
    air_pressure_pa = around.site.atmosphere_pa
    row = calibration.learn(at=at, reading=reading, leak=leak, air_pressure_pa=air_pressure_pa)
    return [] if row is None else [calibration.added(row)]


def untaught_by(reading: Reading, at: datetime) -> list[Act]:
    """Take back what a wrong reading taught; return what the logbook says."""
    row = calibration.unlearn(at=at, reading_id=reading.pk)
    return [] if row is None else [calibration.voided(row)]


def _lesson(reading: Reading, around: Surroundings) -> NewLeak | None:
    """Return the leak that a reading heard and measured at once; None where it lacks a part of that."""
    gas, pressure_gauge_pa = _gas(around), _pressure(reading, around)
    if reading.kind != Kind.PRESSURE_LEAK or gas is None or pressure_gauge_pa is None:
        return None
    heard, measured = reading.level_db, reading.flow_m3_per_s
    if heard is None or measured is None or reading.distance_m is None or reading.flow_u_m3_per_s is None:
        return None
    return NewLeak(
        attachment=reading.attachment,
        gas=gas,
        leak_family=_family(reading),
        taken_at=reading.taken_at,
        level_db=heard,
        background_db=reading.background_db,
        distance_m=reading.distance_m,
        band_centre_hz=reading.band_centre_hz,
        air_temperature_k=reading.air_temperature_k,
        relative_humidity=reading.relative_humidity,
        pressure_gauge_pa=pressure_gauge_pa,
        flow_m3_per_s=measured,
        flow_u_m3_per_s=reading.flow_u_m3_per_s,
        flow_method=reading.flow_method,
    )


def _evidence(reading: Reading, level_db: float, around: Surroundings, setup: Setup) -> LevelEvidence:
    """Return what the level model is asked."""
    air_pressure_pa, pressure_gauge_pa = around.site.atmosphere_pa, _pressure(reading, around)
    return LevelEvidence(
        level_db=level_db,
        background_db=reading.background_db,
        distance_m=reading.distance_m,
        air_temperature_k=reading.air_temperature_k,
        relative_humidity=reading.relative_humidity,
        air_pressure_pa=air_pressure_pa,
        upstream_absolute_pa=None if pressure_gauge_pa is None else pressure_gauge_pa + air_pressure_pa,
        gas=setup.gas,
        family=LeakFamily(setup.leak_family),
        frequency_hz=reading.band_centre_hz or DETECTOR_FREQUENCY_HZ,
    )


def _missing(reading: Reading, gas: str | None) -> list[Reason]:
    """Return what a level lacks before any model is asked."""
    reasons = []
    if reading.instrument_id is None:
        reasons.append(Reason("instrument_missing", "It isn't said which instrument read the level."))
    if not reading.attachment:
        text = "It isn't said what sat on the detector; levels through a horn and a dish are two scales."
        reasons.append(Reason("attachment_missing", text))
    elif reading.attachment not in AIRBORNE:
        text = "A contact probe doesn't hear the leak through the air, so its level tells no flow."
        reasons.append(Reason("attachment_not_airborne", text))
    if gas is None:
        reasons.append(Reason("gas_unknown", "No data are held for this gas, or it isn't named."))
    return reasons


def _family(reading: Reading) -> str:
    """Return the form of the opening; not said is as good as unknown."""
    return reading.leak_family or LeakFamily.UNKNOWN.value


def _pressure(reading: Reading, around: Surroundings) -> float | None:
    if reading.pressure_gauge_pa is not None or around.system is None:
        return reading.pressure_gauge_pa
    return around.system.pressure_gauge_pa


def _gas(around: Surroundings) -> str | None:
    name = None if around.system is None else around.system.gas_name or None
    gas = gas_of(around.medium or Medium.OTHER, name)
    return None if gas is None else gas.key


def _refusal(*reasons: Reason) -> Estimate:
    return refused(unit="m3/s", method=METHOD, version=VERSION, reasons=reasons, inputs={})
