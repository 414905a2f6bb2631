"""What the calibration leaks of one setup teach: a model, how well they lie on it, and which to take next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from findings.physics.estimate import Reason
from findings.physics.level_model import (
    CalibrationPoint,
    LeakFamily,
    LevelModel,
    NextLeak,
    NotFittable,
    fit,
    next_calibration_leak,
    residuals,
)
from findings.physics.uncertainty import coverage_factor
from findings.readings.rules import Attachment

MOST_LEAKS: Final = 500
"""The newest of a setup that a fit rests on; more would hardly narrow it (our judgement)."""

_MEANINGS: Final = (
    ("log10_flow", "log10 of the flow in m³/s at 60 dB at 1 m and seven times the pressure behind the leak."),
    ("per_db", "What one decibel more adds to log10 of the flow."),
    ("per_log10_pressure_ratio", "What ten times the pressure ratio adds to log10 of the flow."),
)


class Setup(NamedTuple):
    """What never mixes in one fit, besides the instrument."""

    attachment: str
    gas: str
    leak_family: str


USUAL: Final = Setup(Attachment.OPEN_HORN.value, "air", LeakFamily.HOLE.value)
"""What is shown of an instrument that was never calibrated."""


class Coefficient(NamedTuple):
    """A coefficient with its 95 % interval, and what it means."""

    name: str
    value: float
    low: float
    high: float
    text: str


class Taught(NamedTuple):
    """What one calibration leak says beside the fit; decades are log10 of measured over expected flow."""

    expected_m3_per_s: float
    residual_decades: float
    residual_scatters: float
    leverage: float


@dataclass(frozen=True, slots=True)
class Fit:
    """A setup's model with all that is shown of it; without a model the reasons say why."""

    setup: Setup
    model: LevelModel | None
    reasons: tuple[Reason, ...]
    taught: tuple[Taught, ...] = ()
    next_leak: NextLeak | None = None

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """Return the three coefficients with their 95 % intervals by Student's t."""
        if self.model is None:
            return ()
        reach = coverage_factor(self.model.degrees_of_freedom) * self.model.scale
        found = []
        for (name, text), value, row in zip(
            _MEANINGS, self.model.coefficients, self.model.covariance_factor, strict=True
        ):
            half = reach * math.hypot(*row)
            found.append(Coefficient(name, value, value - half, value + half, text))
        return tuple(found)


def model_of(setup: Setup, points: Sequence[CalibrationPoint], *, is_absolute: bool) -> LevelModel:
    """Return the model of a setup. Raises NotFittable where its leaks are too few and no prior speaks for it.

    A prior speaks only for a scale in dB re 20 µPa, and not through a dish, whose gain is its own.
    """
    leans = is_absolute and setup.attachment == Attachment.OPEN_HORN
    return fit(points, use_prior=leans, gas=setup.gas, family=LeakFamily(setup.leak_family))


def fit_of(setup: Setup, points: Sequence[CalibrationPoint], *, is_absolute: bool) -> Fit:
    """Return what the leaks of a setup teach, with each leak's part in the order given."""
    try:
        model = model_of(setup, points, is_absolute=is_absolute)
    except NotFittable as refused:
        return Fit(setup, None, (refused.reason,))
    taught = tuple(
        Taught(one.expected_m3_per_s, one.decades, one.scatters, one.leverage)
        for one in residuals(model, points)
    )
    return Fit(setup, model, (), taught, next_calibration_leak(model))
