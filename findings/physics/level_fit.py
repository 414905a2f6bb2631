"""The level model learnt from measured leaks, leaning on the free-jet model while they are few.

Below twelve measured leaks by normal-inverse-gamma shrinkage (Gelman et al., Bayesian Data Analysis,
chapter 14, from memory), from twelve on, spread enough, by least squares alone.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from statistics import stdev
from typing import NamedTuple

from findings.physics import least_squares
from findings.physics.estimate import Reason
from findings.physics.level_form import CalibrationPoint, LeakFamily, LevelModel, design_row, line

NOT_CALIBRATED = "order of magnitude, not calibrated"
FEW = "few calibration leaks"
CALIBRATED = "calibrated"
NARROW = "calibrated in a narrow range"
ONE_PRESSURE = "calibrated at one pressure"

LITRES_PER_MINUTE = math.log10(60000.0)
PRIOR_COEFFICIENTS = (0.20 - LITRES_PER_MINUTE, 0.062, -0.80)
"""The free-jet model's regression over holes of 0.1 to 1.5 mm, pressure ratios 2 to 11."""
PRIOR_SD = (0.25, 0.015, 0.40)
PRIOR_SCATTER = 0.45
"""One leak against the line, decades: shape 6 dB, directivity and obstruction 4 dB (judgement)."""
PRIOR_SHAPE = 3.0
PRIOR_RATE = 0.405
PRIOR_FAMILIES = (LeakFamily.HOLE, LeakFamily.UNKNOWN)
PRIOR_LEVELS_DB = (30.0, 95.0)
PRIOR_RATIOS = (1.9, 16.0)
"""Where the prior speaks: what detectors show and plants run at (judgement)."""
LEAST_SQUARES_FROM = 12
LEAST_SQUARES_ALONE_FROM = 5
LEAST_SPREAD = (4.0, 0.05)
"""Least standard deviation of the levels, dB, and of log10 PR beside them, to fit both slopes (judgement)."""
ONE_PRESSURE_REACH = 1.10
"""How far from the calibrated pressure ratio, as a factor, an assumed slope is trusted (judgement)."""
SMALLEST_SCALE = 0.01
"""No set of leaks is trusted to lie closer to its line than 2 % (judgement)."""


class NotFittable(ValueError):
    """Raised where no model follows from these leaks; ``reason`` says why, for people."""

    def __init__(self, reason: Reason) -> None:
        """Keep the reason."""
        super().__init__(reason.text)
        self.reason = reason


class Residual(NamedTuple):
    """How far a measured leak lies from the model's line.

    ``decades`` is log10 of measured over expected flow, ``scatters`` the same in units of the scatter.
    """

    point: CalibrationPoint
    expected_m3_per_s: float
    decades: float
    scatters: float
    leverage: float


def prior_model() -> LevelModel:
    """Return the model without any measured leak: 95 % limits about a tenth and ten times the estimate.

    Only for absolute scales, air, jets into the room. Its spreads are engineering judgement, not data.
    """
    return fit(())


def fit(
    points: Sequence[CalibrationPoint],
    *,
    use_prior: bool = True,
    gas: str = "air",
    family: LeakFamily | str = LeakFamily.HOLE,
) -> LevelModel:
    """Return the model that these leaks of one gas and one family teach.

    From 12 leaks with enough spread by least squares alone; with fewer, or too alike, they move the prior.
    The prior holds for air out of holes (or leaks of unknown shape) on an absolute scale; with ``use_prior``
    False (a relative scale) the fit leans on it for the pressure alone. Without it least squares from 5 leaks
    on; where all have one pressure, as in a plant of one header, its slope is assumed and the model holds
    near that pressure. A flow less sure than 10 % counts less, 1/(s² + u²). Raises NotFittable.
    """
    family = LeakFamily(family)
    leans = use_prior and gas == "air" and family in PRIOR_FAMILIES
    least = LEAST_SQUARES_FROM if leans else LEAST_SQUARES_ALONE_FROM
    if len(points) >= least and has_enough_spread(points):
        return replace(_least_squares(points), gas=gas, family=family)
    if leans:
        return replace(_shrinkage(points), family=family)
    if len(points) >= least and _levels_spread(points):
        return replace(_at_one_pressure(points), gas=gas, family=family)
    raise NotFittable(_why_not_fitted(points, use_prior=use_prior, gas=gas))


def _why_not_fitted(points: Sequence[CalibrationPoint], *, use_prior: bool, gas: str) -> Reason:
    """Return why nothing can be said with these leaks and without the prior."""
    count, least = len(points), LEAST_SQUARES_ALONE_FROM
    if count >= least:
        text = (
            "The measured leaks are too alike in level to tell a loud leak from a quiet one; measure others."
        )
        return Reason("calibration_spread", text)
    wanted = f"Measure at least {least} leaks of different level and pressure; there are {count}."
    if not use_prior:
        text = f"This instrument's scale has no absolute reference: it ranks leaks, no more. {wanted}"
        return Reason("no_absolute_reference", text)
    if gas != "air":
        return Reason("gas", f"Without measured leaks of this gas only air can be estimated. {wanted}")
    text = f"Without measured leaks of this kind only holes can be estimated. {wanted}"
    return Reason("family", text)


def has_enough_spread(points: Sequence[CalibrationPoint]) -> bool:
    """Tell whether levels and pressures vary enough, and apart from each other, to fit both slopes."""
    try:
        solution = least_squares.solve(_rows(points), [point.log_flow for point in points])
    except least_squares.Singular:
        return False
    root = math.sqrt(len(points))
    spreads = [1.0 / (abs(solution.inverse_factor[i][i]) * root) for i in (1, 2)]
    return all(found >= least for found, least in zip(spreads, LEAST_SPREAD, strict=True))


def _levels_spread(points: Sequence[CalibrationPoint]) -> bool:
    """Tell whether the levels alone vary enough to fit their slope."""
    return stdev(point.level_db for point in points) >= LEAST_SPREAD[0]


def _rows(points: Iterable[CalibrationPoint]) -> list[tuple[float, float, float]]:
    """Return the design rows of measured leaks."""
    return [design_row(point.level_db, point.pressure_ratio) for point in points]


def _system(
    points: Sequence[CalibrationPoint], scale: float | None = None
) -> list[tuple[least_squares.Row, float]]:
    """Return rows and values; with a scatter, those of a flow less sure count s²/(s² + u²)."""
    system: list[tuple[least_squares.Row, float]] = []
    for row, point in zip(_rows(points), points, strict=True):
        root = 1.0 if scale is None else scale / math.hypot(scale, point.log_u)
        system.append((tuple(root * part for part in row), root * point.log_flow))
    return system


def _least_squares(points: Sequence[CalibrationPoint]) -> LevelModel:
    """Return the model by least squares, weighted once by the scatter of the unweighted fit."""
    degrees = len(points) - 3
    system = _system(points)
    solution = least_squares.solve(*zip(*system, strict=True))
    scale = _floored(solution.residual_square / degrees)
    if any(point.log_u for point in points):
        system = _system(points, scale)
        solution = least_squares.solve(*zip(*system, strict=True))
        scale = _floored(solution.residual_square / degrees)
    levels = [point.level_db for point in points]
    ratios = [point.pressure_ratio for point in points]
    a, b, c = solution.coefficients
    return LevelModel(
        coefficients=(a, b, c),
        covariance_factor=solution.inverse_factor,
        degrees_of_freedom=float(degrees),
        scale=scale,
        level_range_db=(min(levels), max(levels)),
        pressure_ratio_range=(min(ratios), max(ratios)),
        leverage_limit=max(least_squares.leverage(solution.inverse_factor, row) for row, _ in system),
        count=len(points),
        uses_prior=False,
        label=CALIBRATED if len(points) >= LEAST_SQUARES_FROM else FEW,
    )


def _at_one_pressure(points: Sequence[CalibrationPoint]) -> LevelModel:
    """Return the model by least squares, the pressure's slope from the free-jet model as one row more."""
    degrees = len(points) - 2
    scale = PRIOR_SCATTER
    for _ in range(2):  # the row of the slope weighs by the scatter that the first pass finds
        size = scale / PRIOR_SD[2]
        slope: tuple[least_squares.Row, float] = ((0.0, 0.0, size), size * PRIOR_COEFFICIENTS[2])
        solution = least_squares.solve(*zip(*_system(points, scale), slope, strict=True))
        scale = _floored(solution.residual_square / degrees)
    levels = [point.level_db for point in points]
    ratios = [point.pressure_ratio for point in points]
    reach = (max(min(ratios) / ONE_PRESSURE_REACH, 1.0), max(ratios) * ONE_PRESSURE_REACH)
    hull = [design_row(level, ratio) for level in (min(levels), max(levels)) for ratio in reach]
    a, b, c = solution.coefficients
    return LevelModel(
        coefficients=(a, b, c),
        covariance_factor=solution.inverse_factor,
        degrees_of_freedom=float(degrees),
        scale=scale,
        level_range_db=(min(levels), max(levels)),
        pressure_ratio_range=reach,
        leverage_limit=max(least_squares.leverage(solution.inverse_factor, row) for row in hull),
        count=len(points),
        uses_prior=False,
        label=ONE_PRESSURE if len(points) >= LEAST_SQUARES_FROM else FEW,
    )


def _floored(variance: float) -> float:
    """Return the scatter of a variance, never below what is trusted."""
    return max(math.sqrt(variance), SMALLEST_SCALE)


def _shrinkage(points: Sequence[CalibrationPoint]) -> LevelModel:
    """Return the normal-inverse-gamma posterior: the prior joins the leaks as three more rows."""
    sizes = [PRIOR_SCATTER / sd for sd in PRIOR_SD]
    prior: list[tuple[least_squares.Row, float]] = [
        (tuple(size if i == j else 0.0 for j in range(3)), size * centre)
        for i, (size, centre) in enumerate(zip(sizes, PRIOR_COEFFICIENTS, strict=True))
    ]
    shape = PRIOR_SHAPE + len(points) / 2.0
    solution = least_squares.solve(*zip(*prior, *_system(points), strict=True))
    if any(point.log_u for point in points):
        scale = math.sqrt((PRIOR_RATE + 0.5 * solution.residual_square) / shape)
        solution = least_squares.solve(*zip(*prior, *_system(points, scale), strict=True))
    levels = [*PRIOR_LEVELS_DB, *(point.level_db for point in points)]
    ratios = [*PRIOR_RATIOS, *(point.pressure_ratio for point in points)]
    hull = [design_row(level, ratio) for level in PRIOR_LEVELS_DB for ratio in PRIOR_RATIOS]
    a, b, c = solution.coefficients
    enough = len(points) >= LEAST_SQUARES_FROM
    return LevelModel(
        coefficients=(a, b, c),
        covariance_factor=solution.inverse_factor,
        degrees_of_freedom=2.0 * shape,
        scale=math.sqrt((PRIOR_RATE + 0.5 * solution.residual_square) / shape),
        level_range_db=(min(levels), max(levels)),
        pressure_ratio_range=(min(ratios), max(ratios)),
        leverage_limit=max(
            least_squares.leverage(solution.inverse_factor, row) for row in (*hull, *_rows(points))
        ),
        count=len(points),
        uses_prior=True,
        label=NARROW if enough else FEW if points else NOT_CALIBRATED,
    )


def residuals(model: LevelModel, points: Sequence[CalibrationPoint]) -> tuple[Residual, ...]:
    """Return how far each measured leak lies from the model's line, in the order given."""
    found = []
    for row, point in zip(_rows(points), points, strict=True):
        expected = line(model, row)
        decades = point.log_flow - expected
        spread = least_squares.leverage(model.covariance_factor, row)
        found.append(Residual(point, 10.0**expected, decades, decades / model.scale, spread))
    return tuple(found)
