"""The baseline of a measuring point: what a contact probe hears there while the machine is good."""

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.input_check import number_problems
from findings.physics.uncertainty import coverage_factor

METHOD = "wear_baseline"
VERSION = "1"
LEAST_READINGS = 6
"""Fewer readings say too little about the scatter (judgement; common practice asks for several)."""
SPEED_TOLERANCE = 0.10
"""Readings are of one speed while each lies within this part of their median (common practice)."""
LOAD_TOLERANCE = 0.10
"""Readings are of one load while each lies within this much of rated load from their median (judgement)."""
SMALLEST_SD_DB = 1.0
"""No probe held by hand repeats better than this (judgement); a smaller scatter would alarm at nothing."""
MAD_TO_SD = 1.4826
"""Makes the median absolute deviation of a normal population its standard deviation."""
OUTLIER_SDS = 3.5
LARGEST_LEVEL_DB = 300.0
MOST_READINGS = 10_000
"""With more readings the factor hardly falls any further."""
_QUADRATURE_POINTS = 400


class Setting(NamedTuple):
    """How a reading is taken: instrument, probe and the way it touches. Levels compare within one only."""

    instrument: str
    probe: str
    contact: str


class WearReading(NamedTuple):
    """A level by contact probe in dB, its setting, the shaft speed in Hz and the part of rated load."""

    level_db: float
    setting: Setting
    speed_hz: float | None
    load: float | None = None


@dataclass(frozen=True)
class Baseline:
    """A point's baseline; ``mean`` carries the reasons and is refused where no baseline can be made.

    ``limit_db`` is the statistical limit with the scatter taken as at least SMALLEST_SD_DB,
    ``plain_limit_db`` the same with the scatter as it is. ``robust_sd_db`` is 1.4826 times the median
    absolute deviation. All but ``mean`` and ``count`` are None in a refused baseline.
    """

    mean: Estimate
    count: int
    sd_db: float | None = None
    median_db: float | None = None
    robust_sd_db: float | None = None
    factor: float | None = None
    limit_db: float | None = None
    plain_limit_db: float | None = None
    setting: Setting | None = None
    speed_hz: float | None = None
    load: float | None = None


def baseline(
    readings: Sequence[WearReading],
    *,
    good_state_confirmed: bool,
    share: float = 0.95,
    confidence: float = 0.95,
    least_readings: int = LEAST_READINGS,
) -> Baseline:
    """Return the baseline of readings at one point, one setting, one speed and one load.

    The mean is arithmetic in dB, since the scatter of one point is near to normal in dB. The limit lies
    above ``share`` of the readings of a good machine with ``confidence`` (see ``tolerance_factor``).
    A new bearing or a new point needs a new baseline; fresh grease doesn't. Refused with reasons for
    too few or mixed readings, an unknown speed, or where nobody confirmed that the machine was good.
    """
    problems = baseline_problems(
        readings, good_state_confirmed=good_state_confirmed, least_readings=least_readings
    )
    inputs = {"levels_db": [r.level_db if math.isfinite(r.level_db) else None for r in readings]}
    if problems:
        mean = refused(unit="dB", method=METHOD, version=VERSION, reasons=problems, inputs=inputs)
        return Baseline(mean, len(readings))
    levels = [reading.level_db for reading in readings]
    count, middle, sd = len(levels), statistics.fmean(levels), statistics.stdev(levels)
    median = statistics.median(levels)
    robust_sd = MAD_TO_SD * statistics.median(abs(level - median) for level in levels)
    factor = tolerance_factor(min(count, MOST_READINGS), share=share, confidence=confidence)
    loads = [reading.load for reading in readings if reading.load is not None]
    return Baseline(
        _mean(middle, sd, count, _remarks(readings, sd, median, robust_sd), inputs),
        count,
        sd,
        median,
        robust_sd,
        factor,
        limit_db=middle + factor * max(sd, SMALLEST_SD_DB),
        plain_limit_db=middle + factor * sd,
        setting=readings[0].setting,
        speed_hz=statistics.median(r.speed_hz for r in readings if r.speed_hz is not None),
        load=statistics.median(loads) if loads else None,
    )


def _mean(
    middle_db: float, sd_db: float, count: int, remarks: tuple[Reason, ...], inputs: Mapping[str, Any]
) -> Estimate:
    """Return the mean of the readings with the interval of Student's t."""
    u = sd_db / math.sqrt(count)
    half = coverage_factor(count - 1) * u
    return Estimate(
        value=middle_db,
        u=u,
        low=middle_db - half,
        high=middle_db + half,
        unit="dB",
        method=METHOD,
        method_version=VERSION,
        status=Status.MEASURED,
        reasons=remarks,
        inputs=inputs,
    )


def baseline_problems(
    readings: Sequence[WearReading], *, good_state_confirmed: bool, least_readings: int = LEAST_READINGS
) -> tuple[Reason, ...]:
    """Return why no baseline can be made of the readings, every reason at once."""
    speeds = [reading.speed_hz for reading in readings if reading.speed_hz is not None]
    loads = [reading.load for reading in readings if reading.load is not None]
    found = number_problems([], [*(reading.level_db for reading in readings), *speeds, *loads])
    if found:
        return found
    problems = []
    if any(abs(reading.level_db) > LARGEST_LEVEL_DB for reading in readings):
        text = "A level lies outside what any instrument shows; correct it."
        problems.append(Reason("level_out_of_range", text))
    if not good_state_confirmed:
        text = "Nobody confirmed that the machine was good when these readings were taken; have it checked."
        problems.append(Reason("good_state_not_confirmed", text))
    if len(readings) < max(least_readings, 2):
        text = f"{len(readings)} readings are too few for a baseline; take at least {max(least_readings, 2)}."
        problems.append(Reason("too_few_readings", text))
    return (*problems, *mixture_problems(readings))


def mixture_problems(readings: Sequence[WearReading]) -> tuple[Reason, ...]:
    """Return why levels can't be compared with each other: mixed settings, speeds or loads."""
    speeds = [reading.speed_hz for reading in readings if reading.speed_hz is not None]
    loads = [reading.load for reading in readings if reading.load is not None]
    problems = []
    if len({reading.setting for reading in readings}) > 1:
        text = "The readings mix instruments, probes or ways of touching; keep to one of each."
        problems.append(Reason("settings_mixed", text))
    if len(speeds) < len(readings) or not all(speed > 0.0 for speed in speeds):
        text = "The shaft speed of a reading isn't known or isn't above zero; note it with every reading."
        problems.append(Reason("speed_unknown", text))
    elif not same_speed(speeds):
        text = "The readings lie more than 10 % apart in speed; take them at one speed."
        problems.append(Reason("speeds_mixed", text))
    if loads and (len(loads) < len(readings) or not same_load(loads)):
        text = "The readings are of different loads, or only some tell theirs; take them at one load."
        problems.append(Reason("loads_mixed", text))
    return tuple(problems)


def same_speed(speeds_hz: Sequence[float]) -> bool:
    """Tell whether every speed lies within SPEED_TOLERANCE of their median; true of none."""
    if not speeds_hz:
        return True
    middle = statistics.median(speeds_hz)
    return all(abs(speed - middle) <= SPEED_TOLERANCE * middle * (1.0 + 1e-9) for speed in speeds_hz)


def same_load(loads: Sequence[float]) -> bool:
    """Tell whether every load lies within LOAD_TOLERANCE of their median; true of none."""
    if not loads:
        return True
    middle = statistics.median(loads)
    return all(abs(load - middle) <= LOAD_TOLERANCE + 1e-9 for load in loads)


def _remarks(
    readings: Sequence[WearReading], sd_db: float, median_db: float, robust_sd_db: float
) -> tuple[Reason, ...]:
    """Return what a reader of the baseline should know."""
    remarks = []
    if sd_db < SMALLEST_SD_DB:
        text = (
            f"The scatter is below {SMALLEST_SD_DB:g} dB; the limit takes {SMALLEST_SD_DB:g} dB (judgement)."
        )
        remarks.append(Reason("scatter_floored", text))
    reach = OUTLIER_SDS * max(robust_sd_db, SMALLEST_SD_DB)
    far = [reading.level_db for reading in readings if abs(reading.level_db - median_db) > reach]
    if far:
        listed = ", ".join(f"{level:.1f}" for level in far[:5])
        text = f"Far from the others: {listed} dB. Look for the cause; repeat a reading that went wrong."
        remarks.append(Reason("outlier", text))
    if all(reading.load is None for reading in readings):
        remarks.append(Reason("load_not_recorded", "The load wasn't noted; it must have been the same."))
    return tuple(remarks)


def _probability_below(
    factor: float, count: int, shift: float, weights: Sequence[tuple[float, float]]
) -> float:
    """Return P(T <= factor sqrt n) of the non-central t with ``shift`` from weights over the scatter."""
    reach = factor * math.sqrt(count)
    return math.fsum(
        weight * 0.5 * math.erfc((shift - reach * scatter) / math.sqrt(2.0)) for scatter, weight in weights
    )


def _scatter_weights(degrees: int) -> list[tuple[float, float]]:
    """Return points and weights that integrate over s / sigma, which is chi / sqrt(degrees).

    The logarithm of s / sigma falls off fast on both sides, so the trapezoid rule is exact to rounding.
    """
    reach = math.sqrt(40.0 / degrees)
    low = -reach - 40.0 / degrees
    step = (reach - low) / _QUADRATURE_POINTS
    half = degrees / 2.0
    front = math.log(2.0) + half * math.log(half) - math.lgamma(half)
    places = (low + index * step for index in range(_QUADRATURE_POINTS + 1))
    return [
        (math.exp(place), step * math.exp(front + degrees * place - half * math.exp(2.0 * place)))
        for place in places
    ]


@lru_cache(maxsize=256)
def tolerance_factor(count: int, *, share: float = 0.95, confidence: float = 0.95) -> float:
    """Return k so that mean + k sd of ``count`` normal readings tops ``share`` of them with ``confidence``.

    One-sided normal tolerance factor: k = t' / sqrt n, t' the ``confidence`` quantile of the non-central
    t with n - 1 degrees of freedom and shift z_share sqrt n. ``count`` is 2 to 10 000, both parts lie
    from 0.5 to below 1, else ValueError. Source: ISO 16269-6, its formula as open packages restate it.
    """
    if not (2 <= count <= MOST_READINGS and 0.5 <= share < 1.0 and 0.5 <= confidence < 1.0):
        msg = "a tolerance factor needs 2 to 10 000 readings and parts from 0.5 to below 1"
        raise ValueError(msg)
    shift = statistics.NormalDist().inv_cdf(share) * math.sqrt(count)
    weights = _scatter_weights(count - 1)
    low, high = 0.0, 1.0
    while _probability_below(high, count, shift, weights) < confidence:
        low, high = high, 2.0 * high
    for _ in range(60):
        middle = (low + high) / 2.0
        below = _probability_below(middle, count, shift, weights) < confidence
        low, high = (middle, high) if below else (low, middle)
    return (low + high) / 2.0
