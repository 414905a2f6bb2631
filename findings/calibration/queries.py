"""Read calibration leaks, and what they teach."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet

from findings.calibration.models import CalibrationLeak
from findings.calibration.rules import MOST_LEAKS, USUAL, Fit, Setup, fit_of, model_of
from findings.detectors.models import Instrument
from findings.physics.level_model import CalibrationPoint, LevelModel


def calibration_leaks() -> QuerySet[CalibrationLeak]:
    """Return all calibration leaks, void ones too; a door narrows them to the caller's sites."""
    return CalibrationLeak.objects.select_related("instrument")


def leaks_of(instrument_id: uuid.UUID) -> QuerySet[CalibrationLeak]:
    """Return an instrument's calibration leaks, void ones too."""
    return calibration_leaks().filter(instrument_id=instrument_id)


def known_by(instrument_id: uuid.UUID, at: datetime) -> QuerySet[CalibrationLeak]:
    """Return the leaks that an instrument was calibrated with by a moment, the newest first."""
    standing = CalibrationLeak.objects.filter(instrument_id=instrument_id, void_at__isnull=True)
    return standing.filter(taken_at__lte=at).order_by("-taken_at", "-id")


def model_at(instrument: Instrument, setup: Setup, at: datetime) -> LevelModel:
    """Return an instrument's model for a setup by the leaks taken until a moment. Raises NotFittable."""
    rows = known_by(instrument.pk, at).filter(**setup._asdict())
    return model_of(
        setup, [point_of(leak) for leak in rows[:MOST_LEAKS]], is_absolute=is_absolute(instrument)
    )


@dataclass(frozen=True, slots=True)
class ShownFit:
    """A fit with the leaks that it rests on, in the order of what each taught."""

    fit: Fit
    leaks: Sequence[CalibrationLeak]


def fits_of(instrument: Instrument, at: datetime) -> list[ShownFit]:
    """Return what an instrument's leaks teach, setup by setup (one query).

    An instrument without any leak shows the usual setup, so that it says which leak to begin with.
    """
    by_setup: dict[Setup, list[CalibrationLeak]] = defaultdict(list)
    for leak in known_by(instrument.pk, at):
        of_setup = by_setup[Setup(leak.attachment, leak.gas, leak.leak_family)]
        if len(of_setup) < MOST_LEAKS:
            of_setup.append(leak)
    if not by_setup:
        by_setup[USUAL] = []
    absolute = is_absolute(instrument)
    return [
        ShownFit(fit_of(setup, [point_of(leak) for leak in leaks], is_absolute=absolute), leaks)
        for setup, leaks in sorted(by_setup.items())
    ]


def point_of(leak: CalibrationLeak) -> CalibrationPoint:
    """Return a leak as the level model takes it."""
    return CalibrationPoint(
        level_db=leak.normalised_level_db,
        pressure_ratio=leak.pressure_ratio,
        flow_m3_per_s=leak.flow_m3_per_s,
        flow_u_m3_per_s=leak.flow_u_m3_per_s,
    )


def is_absolute(instrument: Instrument) -> bool:
    """Tell whether the display's decibels refer to 20 µPa."""
    return instrument.scale == Instrument.Scale.ABSOLUTE
