"""From a detector's level and the pressure ratio to a leak's flow, by a model learnt from measured leaks.

The form stands in ``level_form``, the learning in ``level_fit``; here the model speaks: a flow with its
interval, a refusal, or the leak worth measuring next.
"""

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from findings.physics import jet_noise, least_squares
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.input_check import NEGATIVE, NOT_FINITE, finite_or_none
from findings.physics.level_fit import (
    CALIBRATED,
    FEW,
    NARROW,
    NOT_CALIBRATED,
    ONE_PRESSURE,
    NotFittable,
    Residual,
    fit,
    prior_model,
    residuals,
)
from findings.physics.level_form import VERSION, CalibrationPoint, LeakFamily, LevelModel, design_row, line
from findings.physics.uncertainty import coverage_factor

METHOD = "level"
TRUSTED = frozenset({CALIBRATED, NARROW, ONE_PRESSURE})
"""Labels whose estimates are figures; with fewer measured leaks an estimate is an order of magnitude."""
REGIME_RATIO = 1.9
"""Close above the critical ratio of air, 1.893: below it a jet's noise follows another law."""
SENSIBLE_LOG_FLOWS = (-12.0, 2.0)
LEAST_KNOWN_LEVEL_DB = 20.0
FREQUENCIES_HZ = (1e3, 1e6)
WORKING_LEVELS_DB = (40.0, 90.0)
BEYOND_CALIBRATED_DB = 10.0
WORKING_RATIOS = (2.0, 3.0, 4.0, 5.0, 7.0, 9.0, 11.0)
LEVEL_STEP_DB = 5.0
MEASURABLE_M3_PER_S = (0.05 / 60000.0, 500.0 / 60000.0)
"""What a bag or a small meter measures at a leak (judgement)."""

__all__ = [
    "CALIBRATED",
    "FEW",
    "NARROW",
    "NOT_CALIBRATED",
    "ONE_PRESSURE",
    "CalibrationPoint",
    "LeakFamily",
    "LevelModel",
    "NextLeak",
    "NotFittable",
    "Residual",
    "fit",
    "is_saturated_leak",
    "next_calibration_leak",
    "predict",
    "prior_model",
    "residuals",
]


class NextLeak(NamedTuple):
    """The leak worth measuring next, and the usual factor of the 95 % limits before and after it.

    A factor of 3 reads: between a third and three times the estimate.
    """

    level_db: float
    pressure_ratio: float
    factor_now: float
    factor_after: float
    text: str


def predict(
    model: LevelModel,
    level_db: float,
    pressure_ratio: float,
    level_u_db: float = 0.0,
    *,
    frequency_hz: float = jet_noise.DETECTOR_FREQUENCY_HZ,
) -> Estimate:
    """Return a leak's flow in m3/s at 1 bar 20 °C, or why the model can't say.

    Indicative until the model is calibrated.

    Level at 1 m without background, absolute pressure ratio; ``level_u_db`` is what this level is less sure
    than those of the calibration. The value is the median; for sums take ``mean_flow_m3_per_s`` of the
    inputs, exp(0.5 (ln 10 s)²) times the median. ``u`` is first order, value ln 10 s sqrt(1 + h). The rest
    of the inputs recomputes it.
    """
    inputs: dict[str, Any] = {
        "level_db": level_db,
        "pressure_ratio": pressure_ratio,
        "level_u_db": level_u_db,
        "frequency_hz": frequency_hz,
        "reference_state": "bar20",
        "model": model.to_json(),
    }
    problems = _problems(model, level_db, pressure_ratio, level_u_db, frequency_hz)
    if problems:
        plain = {name: finite_or_none(value) for name, value in inputs.items()}
        return refused(unit="m3/s", method=METHOD, version=VERSION, reasons=problems, inputs=plain)
    return _predicted(model, design_row(level_db, pressure_ratio), level_u_db, inputs)


def _predicted(
    model: LevelModel, row: tuple[float, ...], level_u_db: float, inputs: dict[str, Any]
) -> Estimate:
    """Return the estimate at a place of the model, the steps to it kept beside the inputs."""
    middle = line(model, row)
    spread = model.scale * math.sqrt(1.0 + least_squares.leverage(model.covariance_factor, row))
    spread = math.hypot(spread, model.coefficients[1] * level_u_db)
    reach = coverage_factor(model.degrees_of_freedom) * spread
    steps = {
        "mean_flow_m3_per_s": 10.0**middle * math.exp(0.5 * (math.log(10.0) * model.scale) ** 2),
        "log10_median": middle,
        "log10_scale": spread,
        "degrees_of_freedom": model.degrees_of_freedom,
    }
    return Estimate(
        value=10.0**middle,
        u=10.0**middle * math.log(10.0) * spread,
        low=10.0 ** (middle - reach),
        high=10.0 ** (middle + reach),
        unit="m3/s",
        method=METHOD,
        method_version=VERSION,
        status=Status.ESTIMATED if model.label in TRUSTED else Status.INDICATIVE,
        reasons=_remarks(model),
        inputs={**inputs, **steps},
    )


def _remarks(model: LevelModel) -> tuple[Reason, ...]:
    """Return what a reader of an estimated flow should know about the model."""
    if not model.count:
        text = (
            "Order of magnitude, not calibrated: no leak was measured with this instrument yet. Read the "
            "interval, not the figure, and measure what matters."
        )
        return (Reason("not_calibrated", text),)
    if model.label == CALIBRATED:
        return ()
    if model.label == ONE_PRESSURE:
        text = (
            f"All {model.count} measured leaks behind this had about one pressure: what another pressure "
            "does is assumed, and trusted no further than a tenth from it."
        )
        return (Reason("calibration_one_pressure", text),)
    if model.label == NARROW:
        text = (
            f"The {model.count} measured leaks behind this are much alike in level or pressure; the slopes "
            "are partly assumed."
        )
        return (Reason("calibration_narrow", text),)
    leaks = "1 measured leak stands" if model.count == 1 else f"{model.count} measured leaks stand"
    text = f"Only {leaks} behind this estimate; each further one narrows it."
    return (Reason("few_calibration_leaks", text),)


def _problems(
    model: LevelModel, level_db: float, pressure_ratio: float, level_u_db: float, frequency_hz: float
) -> tuple[Reason, ...]:
    """Return every reason for which the model refuses a reading; none means it may predict."""
    if not all(map(math.isfinite, (level_db, pressure_ratio, level_u_db, frequency_hz))):
        return (NOT_FINITE,)
    if level_u_db < 0.0:
        return (NEGATIVE,)
    problems = (
        *_number_problems(level_u_db, frequency_hz),
        *_range_problems(model, level_db, pressure_ratio),
    )
    if problems:
        return problems
    row = design_row(level_db, pressure_ratio)
    least, most = SENSIBLE_LOG_FLOWS
    if not least <= line(model, row) <= most:
        text = "The flow that follows isn't a leak's; look through the measured leaks for a wrong figure."
        return (Reason("out_of_range", text),)
    if least_squares.leverage(model.covariance_factor, row) > model.leverage_limit * (1.0 + 1e-9):
        text = (
            "Level and pressure are each inside what was calibrated, but no measured leak was like this one "
            "in both; measure one that is."
        )
        problems = (Reason("leverage", text),)
    hole = jet_noise.hole_of(10.0 ** line(model, row), pressure_ratio)
    if jet_noise.is_saturated(hole, frequency_hz):
        text = (
            "The leak is so large that a bigger one would hardly sound louder in this band; the level only "
            "says that it is large. Measure its flow directly."
        )
        problems = (*problems, Reason("saturated", text))
    return problems


def _number_problems(level_u_db: float, frequency_hz: float) -> tuple[Reason, ...]:
    """Return why the level is too unsure to tell anything, or the band isn't an ultrasound detector's."""
    problems = []
    if level_u_db > LEAST_KNOWN_LEVEL_DB:
        text = f"The level is unsure by more than {LEAST_KNOWN_LEVEL_DB:.0f} dB; no flow follows from that."
        problems.append(Reason("uncertainty_too_large", text))
    lowest, highest = FREQUENCIES_HZ
    if not lowest <= frequency_hz <= highest:
        problems.append(Reason("frequency", "A detector's band lies between 1 kHz and 1 MHz."))
    return tuple(problems)


def _range_problems(model: LevelModel, level_db: float, pressure_ratio: float) -> tuple[Reason, ...]:
    """Return why level or pressure ratio lie where the model knows nothing."""
    problems = []
    (quietest, loudest), (least, most) = model.level_range_db, model.pressure_ratio_range
    if not quietest <= level_db <= loudest:
        text = f"The level of {level_db:.1f} dB at 1 m lies outside {quietest:.1f} to {loudest:.1f} dB, {{}}."
        problems.append(Reason("out_of_range", text.format(_whose_range(model))))
    if pressure_ratio < min(least, REGIME_RATIO):
        text = (
            f"The pressure before the leak is only {pressure_ratio:.2f} times that behind it. Below "
            f"{REGIME_RATIO} a jet makes another kind of noise; calibrate there first."
        )
        problems.append(Reason("regime", text))
    elif not least <= pressure_ratio <= most:
        text = f"The pressure ratio of {pressure_ratio:.2f} lies outside {least:.2f} to {most:.2f}, {{}}."
        problems.append(Reason("out_of_range", text.format(_whose_range(model))))
    return tuple(problems)


def _whose_range(model: LevelModel) -> str:
    """Return whose ranges the model's are."""
    return "the range the estimate is made for" if model.uses_prior else "the range of the measured leaks"


def next_calibration_leak(
    model: LevelModel,
    *,
    levels_db: tuple[float, float] | None = None,
    pressure_ratios: Sequence[float] = WORKING_RATIOS,
) -> NextLeak | None:
    """Return the leak whose measurement narrows the 95 % limits most, on average over the working range.

    The range are levels in dB and pressure ratios that the instrument meets: 40 to 90 dB, or 10 dB beyond the
    measured leaks where only they speak. Leaks too large for the level to tell and flows that a bag or small
    meter can't take are left out; None where nothing is left. The criterion is the mean half-width
    (I-optimality), one leak of usual scatter added.
    """
    if levels_db is None:
        quietest, loudest = model.level_range_db
        own = (quietest - BEYOND_CALIBRATED_DB, loudest + BEYOND_CALIBRATED_DB)
        levels_db = WORKING_LEVELS_DB if model.uses_prior else own
    region = _region(model, levels_db, pressure_ratios)
    if not region:
        return None
    halves = [least_squares.half_leverage(model.covariance_factor, design_row(*place)) for place in region]
    narrowed = [(_mean_widening(halves, half), index) for index, half in enumerate(halves)]
    least, index = min(narrowed)
    degrees = model.degrees_of_freedom
    now = coverage_factor(degrees) * model.scale * _mean_widening(halves, (0.0, 0.0, 0.0))
    after = coverage_factor(degrees + 1.0) * model.scale * least
    level, ratio = region[index]
    before_factor, after_factor = 10.0**now, 10.0**after
    text = (
        f"Find and measure a leak of about {level:.0f} dB at 1 m with about {ratio:.0f} times the pressure "
        f"behind it ({ratio - 1.0:.0f} bar gauge into the room). The usual 95 % limits then shrink from a "
        f"factor of {before_factor:.3g} to one of {after_factor:.3g}."
    )
    return NextLeak(level, ratio, before_factor, after_factor, text)


def _region(
    model: LevelModel, levels_db: tuple[float, float], pressure_ratios: Sequence[float]
) -> list[tuple[float, float]]:
    """Return the places of the working range where a leak can be measured and its level tells its size."""
    first, last = (round(level / LEVEL_STEP_DB) for level in levels_db)
    levels = [LEVEL_STEP_DB * step for step in range(first, last + 1)]
    places = [(level, ratio) for level in levels for ratio in pressure_ratios]
    kept = []
    for place in places:
        flow = 10.0 ** max(min(line(model, design_row(*place)), 9.0), -30.0)
        least, most = MEASURABLE_M3_PER_S
        if least <= flow <= most and not jet_noise.is_saturated(jet_noise.hole_of(flow, place[1])):
            kept.append(place)
    return kept


def _mean_widening(halves: Sequence[tuple[float, ...]], added: tuple[float, ...]) -> float:
    """Return the mean of sqrt(1 + h) over the places once the added one is measured; zeros add nothing."""
    x, y, z = added
    gain = 1.0 + x * x + y * y + z * z
    widths = [
        math.sqrt(1.0 + a * a + b * b + c * c - (a * x + b * y + c * z) ** 2 / gain) for a, b, c in halves
    ]
    return math.fsum(widths) / len(widths)


def is_saturated_leak(
    point: CalibrationPoint, *, frequency_hz: float = jet_noise.DETECTOR_FREQUENCY_HZ
) -> bool:
    """Tell whether a measured leak is too large for its level to tell its size: it bends a fit."""
    return jet_noise.is_saturated(jet_noise.hole_of(point.flow_m3_per_s, point.pressure_ratio), frequency_hz)
