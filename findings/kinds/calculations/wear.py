"""Bearings and gears by contact probe: baseline, what a level says, trend and date."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.base import Kind
from findings.kinds.calculations import probe_input, schemas
from findings.kinds.calculations.answers import number
from findings.kinds.calculations.calculation import Calculation, Json
from findings.kinds.calculations.figures import (
    CAUTIONS,
    caution_list,
    figure,
    figure_schema,
    reason_list,
    yes_or_no,
)
from findings.physics.trend import crossing, level_trend
from findings.physics.wear_baseline import baseline
from findings.physics.wear_ladder import DEFAULT_LADDER, SLOW_SPEED_HZ, Step, WearState, judge

YES = "yes"
PART = {"type": "number", "minimum": 0.5, "maximum": 0.999, "default": 0.95}
STEP = schemas.inputs(
    ["key", "rise_db", "one_reading"],
    {
        "key": probe_input.label("The step's name."),
        "rise_db": schemas.positive(200.0, "Rise over the baseline that reaches it, dB."),
        "meaning": probe_input.label("What it means."),
        "one_reading": schemas.choice([YES, "no"], "Whether one reading is enough for a work order."),
    },
)

WEAR_BASELINE = schemas.inputs(
    ["readings"],
    {
        "readings": probe_input.readings_schema(probe_input.READING, "Readings of one point.", least=1),
        "good_state": probe_input.GOOD_STATE,
        "share": {**PART, "description": "Part of a good machine's readings below the limit."},
        "confidence": {**PART, "description": "How surely the limit does that."},
        **probe_input.COMMON,
    },
)
WEAR_BASELINE_ANSWER = schemas.answer(
    {
        "mean": figure_schema("db", "Mean level of the good machine, dB."),
        "count": {"type": "integer", "description": "Number of readings."},
        "sd_db": schemas.result("Standard deviation, dB."),
        "median_db": schemas.result("Median, dB."),
        "robust_sd_db": schemas.result("1.4826 times the median absolute deviation, dB."),
        "tolerance_factor": schemas.result("One-sided normal tolerance factor."),
        "limit_db": schemas.result("Statistical limit with a scatter of at least 1 dB, dB."),
        "plain_limit_db": schemas.result("Statistical limit with the scatter as it is, dB."),
        "cautions": CAUTIONS,
    }
)

WEAR_LEVEL = schemas.inputs(
    ["readings"],
    {
        "readings": probe_input.readings_schema(
            probe_input.READING, "Readings to judge, the oldest first; the last is judged.", least=1
        ),
        **probe_input.BASELINE,
        "ladder": {
            "type": "array",
            "minItems": 1,
            "maxItems": 12,
            "items": STEP,
            "description": "The site's own ladder, lowest step first; else the usual one.",
        },
        "slow_speed_hz": {
            **schemas.positive(100.0, "Speed below which a level alone doesn't decide, Hz."),
            "default": SLOW_SPEED_HZ,
        },
        **probe_input.COMMON,
    },
)
WEAR_LEVEL_ANSWER = schemas.answer(
    {
        "state": schemas.choice([state.value for state in WearState], "What the last reading says."),
        "rise": figure_schema("db", "How far it lies over the baseline, dB."),
        "step": schemas.result("How many steps of the ladder are reached.", "integer"),
        "step_key": schemas.result("Name of the highest step reached.", "string"),
        "step_meaning": schemas.result("What that step means.", "string"),
        "limit_db": schemas.result("The baseline's statistical limit, dB."),
        "over_limit": yes_or_no("Whether the level lies above that limit."),
        "alarm": yes_or_no("Whether a step is reached or the limit passed; null: can't be told."),
        "work_order": yes_or_no("Whether a work order is due; null: can't be told."),
        "reasons": schemas.REASONS,
        "cautions": CAUTIONS,
    }
)

WEAR_TREND = schemas.inputs(
    ["readings"],
    {
        "readings": probe_input.readings_schema(
            probe_input.DATED_READING, "Dated readings of one point.", least=1
        ),
        "threshold_db": {
            **probe_input.LEVEL,
            "description": "Level whose date is wanted, dB, such as the baseline plus a step.",
        },
        "since_day": {**probe_input.DAY, "description": "Day of the last repair or greasing, if any."},
        **probe_input.COMMON,
    },
)
WEAR_TREND_ANSWER = schemas.answer(
    {
        "slope": figure_schema("db_per_day", "Rise per day, dB."),
        "p_value": schemas.result("Two-sided p of a slope that is really zero."),
        "upward": yes_or_no("Whether the level rises beyond doubt at 95 %."),
        "residual_sd_db": schemas.result("Scatter round the line, dB."),
        "robust_slope_db_per_day": schemas.result("Theil-Sen slope, dB per day."),
        "robust_low_db_per_day": schemas.result("Lower end of its 95 % interval."),
        "robust_high_db_per_day": schemas.result("Upper end of its 95 % interval."),
        "kendall_tau": schemas.result("How steadily the level rises, -1 to 1."),
    },
    {
        "line_crossing": figure_schema("day", "Day on which the line reaches the threshold."),
        "reading_crossing": figure_schema("day", "The same with the interval of a single reading."),
        "cautions": CAUTIONS,
    },
)


def wear_baseline(data: Mapping[str, Any]) -> Json:
    """Return the baseline of a point and its statistical limit."""
    made = baseline(
        probe_input.readings_of(data["readings"], data),
        good_state_confirmed=data.get("good_state") == probe_input.CONFIRMED,
        share=float(data.get("share", 0.95)),
        confidence=float(data.get("confidence", 0.95)),
    )
    return {
        "mean": figure(made.mean, "db"),
        "count": made.count,
        "sd_db": made.sd_db,
        "median_db": made.median_db,
        "robust_sd_db": made.robust_sd_db,
        "tolerance_factor": made.factor,
        "limit_db": made.limit_db,
        "plain_limit_db": made.plain_limit_db,
        "cautions": caution_list(Kind.MECHANICAL_WEAR),
    }


def wear_level(data: Mapping[str, Any]) -> Json:
    """Return what the last reading says against the baseline."""
    ladder = [_step(step) for step in data["ladder"]] if "ladder" in data else DEFAULT_LADDER
    base = probe_input.baseline_of(data)
    verdict = judge(
        probe_input.readings_of(data["readings"], data),
        base,
        ladder=ladder,
        slow_speed_hz=float(data.get("slow_speed_hz", SLOW_SPEED_HZ)),
    )
    return {
        "state": verdict.state.value,
        "rise": figure(verdict.rise, "db"),
        "step": verdict.step,
        "step_key": verdict.step_key,
        "step_meaning": ladder[verdict.step - 1].meaning if verdict.step else None,
        "limit_db": base.limit_db if base else None,
        "over_limit": verdict.over_limit,
        "alarm": verdict.alarm,
        "work_order": verdict.work_order,
        "reasons": reason_list(verdict.reasons),
        "cautions": caution_list(Kind.MECHANICAL_WEAR),
    }


def _step(data: Mapping[str, Any]) -> Step:
    """Return a step of the site's own ladder."""
    meaning = str(data.get("meaning", ""))
    return Step(data["key"], float(data["rise_db"]), meaning, "site", one_reading=data["one_reading"] == YES)


def wear_trend(data: Mapping[str, Any]) -> Json:
    """Return the trend of a point and, for a threshold, the day on which it will be reached."""
    trend = level_trend(
        [float(item["day"]) for item in data["readings"]],
        probe_input.readings_of(data["readings"], data),
        since_day=number(data, "since_day"),
    )
    robust = trend.robust
    answer: Json = {
        "slope": figure(trend.slope, "db_per_day"),
        "p_value": trend.p_value,
        "upward": trend.upward,
        "residual_sd_db": trend.residual_sd_db,
        "robust_slope_db_per_day": robust.slope if robust else None,
        "robust_low_db_per_day": robust.low if robust else None,
        "robust_high_db_per_day": robust.high if robust else None,
        "kendall_tau": robust.tau if robust else None,
    }
    if "threshold_db" in data:
        threshold = float(data["threshold_db"])
        answer["line_crossing"] = figure(crossing(trend, threshold), "day")
        answer["reading_crossing"] = figure(crossing(trend, threshold, single=True), "day")
        answer["cautions"] = caution_list(Kind.MECHANICAL_WEAR)
    return answer


_SETTING = {"instrument": "detector 3", "probe": "rod 100 mm", "contact": "held by hand", "speed_hz": 24.5}
_GOOD = probe_input.levels(23.1, 24.0, 22.4, 23.6, 24.3, 23.0, 22.9, 23.8)
_DAYS = (0, 30, 61, 91, 122, 152, 183, 213)
_RISING = (24.1, 24.6, 25.9, 26.2, 27.8, 28.1, 29.6, 30.2)

ROWS = (
    Calculation(
        "wear-baseline",
        "Baseline of a measuring point and the limit of a good machine",
        wear_baseline,
        WEAR_BASELINE,
        WEAR_BASELINE_ANSWER,
        {"readings": _GOOD, "good_state": "confirmed", **_SETTING},
        "One-sided normal tolerance factor of ISO 16269-6; at least six readings and 1 dB: judgement.",
    ),
    Calculation(
        "wear-level",
        "What a contact-probe level says against the baseline",
        wear_level,
        WEAR_LEVEL,
        WEAR_LEVEL_ANSWER,
        {
            "readings": probe_input.levels(33.2, 36.1),
            "baseline_readings": _GOOD,
            "good_state": "confirmed",
            **_SETTING,
        },
        "8 dB step of a trade article; 12, 16 and 35 dB common practice, from memory.",
    ),
    Calculation(
        "wear-trend",
        "Trend of a level and the day it reaches a threshold",
        wear_trend,
        WEAR_TREND,
        WEAR_TREND_ANSWER,
        {
            "readings": [{"day": day, "level_db": level} for day, level in zip(_DAYS, _RISING, strict=True)],
            "threshold_db": 35.4,
            **_SETTING,
        },
        "Least squares with the interval of inverse regression after Fieller; Theil-Sen slope after Sen.",
    ),
)
