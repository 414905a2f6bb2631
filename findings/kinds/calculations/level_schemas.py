"""What the calculations of airborne levels take and answer."""

from findings.kinds.calculations import schemas
from findings.kinds.level_evidence import IN, OUT
from findings.physics.acoustics import (
    BACKGROUND_RULES,
    DEFAULT_BACKGROUND_RULE,
    LEVEL_LIMITS_DB,
    BackgroundStatus,
)
from findings.physics.gases import GASES
from findings.physics.jet_noise import DETECTOR_FREQUENCY_HZ
from findings.physics.level_form import HIGHEST_FLOW_M3_PER_S, HIGHEST_RATIO, LeakFamily

Schema = schemas.Schema
ABSOLUTE = "absolute"
RELATIVE = "relative"


def _level(description: str) -> Schema:
    """Return the schema of a level."""
    lowest, highest = LEVEL_LIMITS_DB
    return {"type": "number", "minimum": lowest, "maximum": highest, "description": description}


WEATHER = {
    "air_temperature_k": schemas.positive(1000.0, "Air temperature, K; 293.15 stands in."),
    "relative_humidity": schemas.at_least_zero(1.0, "Relative humidity, 0 to 1; 0.5 stands in."),
    "air_pressure_pa": schemas.positive(1e6, "Air pressure, Pa absolute; 101325 stands in."),
}
FREQUENCY = schemas.positive(1e7, "Middle of the detector's band, Hz.")
READING = {
    "level_db": _level("Level that the detector showed, dB."),
    "level_u_db": {**schemas.at_least_zero(100.0, "Its standard uncertainty, dB."), "default": 0.0},
    "background_db": _level("Level beside the leak with nothing else changed, dB."),
    "background_rule": schemas.choice(
        list(BACKGROUND_RULES),
        "Difference above which nothing is taken off / below which the level is only an upper bound, dB.",
        DEFAULT_BACKGROUND_RULE,
    ),
    "distance_m": schemas.positive(1e4, "Distance from the leak, m."),
    "distance_u_m": schemas.at_least_zero(1e4, "Its standard uncertainty, m; a tenth is assumed."),
    "frequency_hz": {**FREQUENCY, "default": DETECTOR_FREQUENCY_HZ},
    **WEATHER,
}
MODEL_OF = {
    "gas": schemas.choice(list(GASES), "The gas that flows.", "air"),
    "scale": schemas.choice(
        [ABSOLUTE, RELATIVE], "absolute: the levels are dB re 20 µPa; relative: instrument dB.", RELATIVE
    ),
}
FAMILIES = [family.value for family in LeakFamily]
MOST_LEAKS = 200
LEAK = {
    "type": "object",
    "required": ["level_db", "pressure_ratio", "flow_m3_per_s"],
    "properties": {
        "level_db": _level("Level at 1 m, background taken off and not an upper bound, dB."),
        "pressure_ratio": {
            "type": "number",
            "exclusiveMinimum": 1,
            "maximum": HIGHEST_RATIO,
            "description": "Absolute pressure before the leak over that behind it.",
        },
        "flow_m3_per_s": {
            **schemas.positive(HIGHEST_FLOW_M3_PER_S, "Measured flow at 1 bar 20 °C, m3/s."),
            "exclusiveMinimum": 1e-15,
        },
        "flow_u_m3_per_s": {
            **schemas.at_least_zero(HIGHEST_FLOW_M3_PER_S, "Its standard uncertainty, m3/s."),
            "default": 0.0,
        },
    },
    "additionalProperties": False,
}


def _leaks(least: int) -> Schema:
    """Return the schema of a list of measured leaks."""
    return {
        "type": "array",
        "minItems": least,
        "maxItems": MOST_LEAKS,
        "items": LEAK,
        "description": "Leaks of one instrument, gas and kind that were heard and measured.",
    }


AIR_ABSORPTION = schemas.inputs(["frequency_hz"], {"frequency_hz": FREQUENCY, **WEATHER})
AIR_ABSORPTION_ANSWER = schemas.answer(
    {
        "absorption_db_per_m": schemas.result("What the air takes from a tone per metre, dB/m."),
        "absorption_u_db_per_m": schemas.result("Its standard uncertainty, dB/m."),
        "absorption_low_db_per_m": schemas.result("Lower end of its 95 % interval, dB/m."),
        "absorption_high_db_per_m": schemas.result("Upper end of its 95 % interval, dB/m."),
        "accuracy_class": schemas.result("Accuracy the standard states for this air: 0.1, 0.2 or 0.5."),
        "water_molar_share": schemas.result("Share of water molecules in the air, 0 to 1."),
        "saturation_pressure_pa": schemas.result("Pressure of saturated water vapour, Pa."),
        **schemas.PROVENANCE,
    }
)

NORMALISE_LEVEL = schemas.inputs(["level_db", "distance_m"], READING)
NORMALISE_LEVEL_ANSWER = schemas.answer(
    {
        "level_at_1_m_db": schemas.result("Level of the leak alone, 1 m away, dB."),
        "level_u_db": schemas.result("Its standard uncertainty, dB."),
        "level_low_db": schemas.result("Lower end of its 95 % interval, dB."),
        "level_high_db": schemas.result("Upper end of its 95 % interval, dB."),
        "background_correction_db": schemas.result("What was taken off for the background, dB."),
        "background_status": schemas.choice(
            [status.value for status in BackgroundStatus],
            "upper_bound: the background is too near; the level may rank, not measure.",
        ),
        "absorption_db_per_m": schemas.result("Absorption of the air that was used, dB/m."),
        **schemas.PROVENANCE,
    }
)

LEVEL_TO_FLOW = schemas.inputs(
    ["level_db", "distance_m", "upstream_absolute_pa"],
    {
        **READING,
        "upstream_absolute_pa": schemas.positive(4e7, "Pressure before the leak, Pa absolute."),
        "downstream_absolute_pa": schemas.positive(4e7, "Pressure behind it; else the air's."),
        **MODEL_OF,
        "family": schemas.choice(FAMILIES, "What kind of gap it is.", LeakFamily.UNKNOWN.value),
        "direction": schemas.choice([OUT, IN], "in: a vacuum draws air in.", OUT),
        "calibration": _leaks(0),
        "calibration_family": schemas.choice(
            FAMILIES, "Kind of the measured leaks; else holes.", LeakFamily.HOLE.value
        ),
    },
)
LEVEL_TO_FLOW_ANSWER = schemas.answer(
    {
        **schemas.FLOW_ANSWER,
        "mean_flow_m3_per_s": schemas.result("Mean for sums and money, above the median, m3/s."),
        "level_at_1_m_db": schemas.result("Level of the leak alone at 1 m, dB."),
        "pressure_ratio": schemas.result("Absolute pressure before over behind the leak."),
        "label": schemas.result("How far to trust the model behind it; null where there is none.", "string"),
        "calibration_leaks": {"type": "integer", "description": "How many measured leaks stand behind it."},
    }
)

FIT_CALIBRATION = schemas.inputs(
    ["calibration"],
    {
        "calibration": _leaks(1),
        **MODEL_OF,
        "family": schemas.choice(FAMILIES, "Kind of the measured leaks.", LeakFamily.HOLE.value),
    },
)
FIT_CALIBRATION_ANSWER = schemas.answer(
    {
        "intercept_log10_m3_per_s": schemas.result("a: log10 of the flow in m3/s at 60 dB and ratio 7."),
        "slope_per_db": schemas.result("b: decades of flow per dB."),
        "slope_per_ratio_decade": schemas.result("c: decades of flow per decade of the pressure ratio."),
        "scatter_decades": schemas.result("Scatter of one leak about the line, decades of flow."),
        "degrees_of_freedom": schemas.result("Degrees of freedom of the t distribution of a prediction."),
        "level_low_db": schemas.result("Quietest level it speaks for, dB at 1 m."),
        "level_high_db": schemas.result("Loudest level it speaks for, dB at 1 m."),
        "pressure_ratio_low": schemas.result("Lowest pressure ratio it speaks for."),
        "pressure_ratio_high": schemas.result("Highest pressure ratio it speaks for."),
        "leverage_limit": schemas.result("Largest leverage a reading may have."),
        "uses_prior": schemas.result("True where the fit still leans on the free-jet model.", "boolean"),
        "label": schemas.result("How far to trust it.", "string"),
        "residuals": schemas.listing(
            schemas.answer(
                {
                    "expected_m3_per_s": schemas.result("Flow on the fitted line, m3/s."),
                    "residual_decades": schemas.result("log10 of measured over expected flow."),
                    "residual_scatters": schemas.result("The same in units of the scatter."),
                    "leverage": schemas.result("How much the fit depends on this leak."),
                }
            ),
            "The leaks in the order given; beyond 3 scatters measure that one again.",
        ),
        "next_level_db": schemas.result("Level of the leak worth measuring next, dB at 1 m."),
        "next_pressure_ratio": schemas.result("Its pressure ratio."),
        "factor_now": schemas.result("Usual factor from the estimate to its 95 % limits."),
        "factor_after": schemas.result("The same once that leak is measured."),
        "advice": schemas.result("The same in words.", "string"),
        **schemas.PROVENANCE,
    }
)
