"""How a point's level grows from reading to reading, and when it will reach a threshold."""

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.input_check import number_problems
from findings.physics.robust_trend import RobustTrend, robust_trend
from findings.physics.uncertainty import coverage_factor, outside_probability
from findings.physics.wear_baseline import LARGEST_LEVEL_DB, WearReading, mixture_problems

METHOD = "least_squares_trend"
VERSION = "1"
LEAST_DAYS = 5
"""Readings at fewer different times carry no trend (judgement): four steps between them at least."""
MOST_READINGS = 500
HORIZON_SPANS = 2.0
"""No date lies further after the last reading than this many times the time observed (judgement)."""
SHORTEST_SPAN = 1.0
LARGEST_DAY = 1e5
DAY_PLACES = 3
"""A day's thousandth, a minute and a half, is as near as two readings are told apart."""
SMALLEST_SCATTER_DB = 0.05
"""Readings closer to a line than this were hardly measured (judgement)."""


@dataclass(frozen=True)
class Trend:
    """A line through levels: ``slope`` in dB per day is refused, and the rest None, where there is none.

    ``upward`` says whether it rises beyond doubt at 95 %; ``p_value`` is two-sided.
    """

    slope: Estimate
    count: int = 0
    mean_day: float = 0.0
    mean_db: float = 0.0
    first_day: float = 0.0
    last_day: float = 0.0
    last_db: float = 0.0
    sum_of_squares: float = 0.0
    residual_sd_db: float | None = None
    p_value: float | None = None
    upward: bool | None = None
    robust: RobustTrend | None = None


def level_trend(
    days: Sequence[float], readings: Sequence[WearReading], *, since_day: float | None = None
) -> Trend:
    """Return the trend of one point's readings, days counted from any day zero.

    Only readings from ``since_day`` on count: give the day of the last repair or greasing, since either
    starts a new line. Refused for mixed settings, speeds or loads, or too few different days.
    """
    start = -math.inf if since_day is None else since_day
    kept = [(day, taken) for day, taken in zip(days, readings, strict=True) if day >= start]
    problems = mixture_problems([taken for _, taken in kept])
    if kept and problems:
        return _no_trend(problems)
    return fit([day for day, _ in kept], [taken.level_db for _, taken in kept])


def fit(days: Sequence[float], levels_db: Sequence[float]) -> Trend:
    """Return the least-squares line of levels in dB over days, with the robust slope beside it.

    ``days`` and ``levels_db`` have one entry per reading, in any order, at LEAST_DAYS different times at
    least, a day or more apart. The slope's interval is Student's t with n - 2 degrees of freedom.
    """
    problems = _problems(days, levels_db)
    if problems:
        return _no_trend(problems)
    ordered = sorted(zip((round(day, DAY_PLACES) for day in days), levels_db, strict=True))
    x, y = [day for day, _ in ordered], [level for _, level in ordered]
    count, mean_day, mean_db = len(x), statistics.fmean(x), statistics.fmean(y)
    squares = math.fsum((day - mean_day) ** 2 for day in x)
    slope = math.fsum((day - mean_day) * (level - mean_db) for day, level in ordered) / squares
    rest = math.fsum((level - mean_db - slope * (day - mean_day)) ** 2 for day, level in ordered)
    scatter = math.sqrt(rest / (count - 2))
    u = scatter / math.sqrt(squares)
    half = coverage_factor(count - 2) * u
    robust = robust_trend(x, y)
    estimate = Estimate(
        value=slope,
        u=u,
        low=slope - half,
        high=slope + half,
        unit="dB/d",
        method=METHOD,
        method_version=VERSION,
        status=Status.ESTIMATED,
        reasons=_remarks(slope, scatter, robust),
        inputs={"days": x, "levels_db": y},
    )
    return Trend(
        slope=estimate,
        count=count,
        mean_day=mean_day,
        mean_db=mean_db,
        first_day=x[0],
        last_day=x[-1],
        last_db=y[-1],
        sum_of_squares=squares,
        residual_sd_db=scatter,
        p_value=_p_value(slope, u, count),
        upward=slope > half * (1.0 + 1e-9),
        robust=robust,
    )


def crossing(trend: Trend, threshold_db: float, *, single: bool = False) -> Estimate:
    """Return the day on which the line reaches a threshold, with its 95 % interval, or why there is none.

    The interval holds the days on which the line's confidence band meets the threshold; with ``single``
    that of the next single reading. No date without a significant rise, none for a threshold already
    reached, none further ahead than HORIZON_SPANS times the time observed. Source: inverse regression
    after Fieller; any textbook of calibration.
    """
    problems = _no_date(trend, threshold_db)
    value = low = high = math.nan
    if not problems:
        value, low, high = _crossing_days(trend, threshold_db, single=single)
        problems = _beyond_horizon(trend, value, low)
    inputs = {
        "threshold_db": threshold_db if math.isfinite(threshold_db) else None,
        "single": single,
        **trend.slope.inputs,
    }
    method = "fieller_single_reading" if single else "fieller_mean_line"
    if problems:
        return refused(unit="d", method=method, version=VERSION, reasons=problems, inputs=inputs)
    return Estimate(
        value=value,
        u=_crossing_u(trend, value, single=single),
        low=low,
        high=high,
        unit="d",
        method=method,
        method_version=VERSION,
        status=Status.ESTIMATED,
        reasons=(*trend.slope.reasons, *_date_remarks(trend, low, high)),
        inputs=inputs,
    )


def _no_trend(problems: tuple[Reason, ...]) -> Trend:
    """Return the trend that says why there is none."""
    return Trend(refused(unit="dB/d", method=METHOD, version=VERSION, reasons=problems, inputs={}))


def _problems(days: Sequence[float], levels_db: Sequence[float]) -> tuple[Reason, ...]:
    """Return why no line is laid through these readings."""
    found = number_problems([], [*days, *levels_db])
    if found:
        return found
    if len(days) != len(levels_db) or len(days) > MOST_READINGS:
        text = f"Each reading needs its day, and at most {MOST_READINGS} readings are taken."
        return (Reason("readings_unfit", text),)
    if any(abs(level) > LARGEST_LEVEL_DB for level in levels_db) or any(abs(d) > LARGEST_DAY for d in days):
        return (Reason("level_out_of_range", "A level or a day is impossible; correct it."),)
    different = len({round(day, DAY_PLACES) for day in days})
    if different < LEAST_DAYS:
        text = f"A trend needs readings at {LEAST_DAYS} different times at least; there are {different}."
        return (Reason("too_few_readings", text),)
    if max(days) - min(days) < SHORTEST_SPAN:
        return (Reason("span_too_short", "The readings were taken within a day; a trend needs days."),)
    return ()


def _p_value(slope: float, u: float, count: int) -> float:
    """Return the two-sided p of a slope that is really zero."""
    if u == 0.0:
        return 1.0 if slope == 0.0 else 0.0
    return outside_probability(min(abs(slope / u), 1e100), count - 2)


def _remarks(slope: float, scatter_db: float, robust: RobustTrend) -> tuple[Reason, ...]:
    """Return what a reader of the line should know."""
    remarks = []
    if not robust.low <= slope <= robust.high:
        text = "The robust slope disagrees with the line: look for readings that stand apart."
        remarks.append(Reason("outliers", text))
    if scatter_db < SMALLEST_SCATTER_DB:
        text = "The readings scatter less than any measurement does; the interval is too narrow."
        remarks.append(Reason("scatter_too_small", text))
    return tuple(remarks)


def _no_date(trend: Trend, threshold_db: float) -> tuple[Reason, ...]:
    """Return why a line can't give a date at all."""
    if trend.slope.value is None:
        return trend.slope.reasons
    if not math.isfinite(threshold_db) or abs(threshold_db) > LARGEST_LEVEL_DB:
        return (Reason("threshold_out_of_range", "The threshold isn't a possible level."),)
    line_now = trend.mean_db + trend.slope.value * (trend.last_day - trend.mean_day)
    if max(line_now, trend.last_db) >= threshold_db:
        text = "The level has reached the threshold already: act on the alarm, not on a date."
        return (Reason("threshold_reached", text),)
    if not trend.upward:
        text = "No significant upward trend, so no date. That is no promise: keep reading at the interval."
        return (Reason("no_trend", text),)
    return ()


def _crossing_days(trend: Trend, threshold_db: float, *, single: bool) -> tuple[float, float, float]:
    """Return the day of the crossing and both ends of its interval, of a line that rises beyond doubt.

    The threshold lies above the line's middle here, so the roots are written without cancellation.
    """
    slope, scatter = trend.slope.value or 0.0, trend.residual_sd_db or 0.0
    rise = threshold_db - trend.mean_db
    spread = (coverage_factor(trend.count - 2) * scatter) ** 2
    share = 1.0 / trend.count + (1.0 if single else 0.0)
    lead = slope * slope - spread / trend.sum_of_squares
    root = math.sqrt(max(slope * slope * rise * rise - lead * (rise * rise - spread * share), 0.0))
    middle = rise / slope
    far = slope * rise + root
    low, high = (rise * rise - spread * share) / far, far / lead
    return (
        trend.mean_day + middle,
        trend.mean_day + min(low, middle),
        trend.mean_day + max(high, middle),
    )


def _crossing_u(trend: Trend, day: float, *, single: bool) -> float:
    """Return the first-order standard uncertainty of a crossing in days."""
    share = 1.0 / trend.count + (1.0 if single else 0.0)
    offset = (day - trend.mean_day) ** 2 / trend.sum_of_squares
    return (trend.residual_sd_db or 0.0) / abs(trend.slope.value or 1.0) * math.sqrt(share + offset)


def _horizon(trend: Trend) -> float:
    """Return the last day for which a date is given."""
    return trend.last_day + HORIZON_SPANS * (trend.last_day - trend.first_day)


def _beyond_horizon(trend: Trend, day: float, low: float) -> tuple[Reason, ...]:
    """Return the refusal of a date too far ahead."""
    if day <= _horizon(trend):
        return ()
    text = (
        f"Beyond horizon: the date lies further ahead than {HORIZON_SPANS:g} times the time observed. "
        f"The interval begins at day {low:.0f}; keep reading."
    )
    return (Reason("beyond_horizon", text),)


def _date_remarks(trend: Trend, low: float, high: float) -> tuple[Reason, ...]:
    """Return what a planner should know of a date's interval."""
    remarks = []
    if low <= trend.last_day:
        text = "The interval begins before the last reading: the threshold may be reached already."
        remarks.append(Reason("may_be_reached", text))
    if high > _horizon(trend):
        text = "The interval's end lies beyond the horizon; plan by its beginning."
        remarks.append(Reason("end_beyond_horizon", text))
    return tuple(remarks)
