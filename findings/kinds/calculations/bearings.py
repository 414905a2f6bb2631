"""Rolling bearings: grease, what a greasing did, and the rhythms of damage."""

import math
from collections.abc import Mapping
from typing import Any

from findings.kinds.base import Kind
from findings.kinds.calculations import probe_input, schemas
from findings.kinds.calculations.answers import number
from findings.kinds.calculations.calculation import Calculation, Json
from findings.kinds.calculations.figures import CAUTIONS, caution_list, figure, figure_schema, reason_list
from findings.physics.defect_frequencies import SLIP, Geometry, Ring, defect_frequencies
from findings.physics.greasing import Advice, GreaseStep, Mark, Outcome, greasing, portion_kg
from findings.physics.relubrication import BearingType, Duty, Shaft, grease_charge, relubrication_interval

SIZE_M = 3.0
FACTOR = {**schemas.positive(1.0, "The site's factor on the interval, up to 1."), "default": 1.0}
MOST_STEPS = 50

RELUBRICATION = schemas.inputs(
    ["outer_diameter_m", "width_m", "bore_m", "speed_hz"],
    {
        "outer_diameter_m": schemas.positive(SIZE_M, "Outer diameter of the bearing, m."),
        "width_m": schemas.positive(SIZE_M, "Its width, m."),
        "bore_m": schemas.positive(SIZE_M, "Its bore, m."),
        "speed_hz": schemas.positive(5000.0, "Shaft speed, turns per second."),
        "bearing": schemas.choice(
            [kind.value for kind in BearingType], "Its rolling elements.", BearingType.BALL.value
        ),
        "shaft": schemas.choice([lie.value for lie in Shaft], "How the shaft lies.", Shaft.HORIZONTAL.value),
        "temperature_k": schemas.positive(1000.0, "Temperature of the bearing, K; else 70 °C."),
        "vibration_factor": {**FACTOR, "description": "For vibration: the site's factor, above 0 to 1."},
        "contamination_factor": {**FACTOR, "description": "For dirt and water: the same."},
        "speed_limit_hz": schemas.positive(5000.0, "The bearing's own speed limit with grease, Hz."),
    },
)
RELUBRICATION_ANSWER = schemas.answer(
    {
        "charge": figure_schema("kg", "Grease of one relubrication, kg."),
        "portion_least_kg": schemas.result("Least to add before reading the level again, kg."),
        "portion_most_kg": schemas.result("Most to add before reading the level again, kg."),
        "interval": figure_schema("s", "Running time until the next, s."),
        "interval_hours": schemas.result("The same in hours."),
        "cautions": CAUTIONS,
    }
)

GREASING_RECORD = schemas.inputs(
    ["steps"],
    {
        "steps": {
            "type": "array",
            "minItems": 1,
            "maxItems": MOST_STEPS,
            "items": schemas.inputs(
                ["mark", "level_db", "grease_kg"],
                {
                    "mark": schemas.choice([mark.value for mark in Mark], "What the technician says it is."),
                    "level_db": probe_input.LEVEL,
                    "grease_kg": schemas.at_least_zero(100.0, "Grease given so far, kg."),
                },
            ),
            "description": "Levels as the technician marked them, in order; the first before greasing.",
        },
        "charge_kg": schemas.positive(100.0, "Grease of one relubrication, kg."),
        **probe_input.BASELINE,
        **probe_input.COMMON,
    },
)
GREASING_RECORD_ANSWER = schemas.answer(
    {
        "outcome": schemas.choice([outcome.value for outcome in Outcome], "What it did to the level."),
        "advice": schemas.choice([advice.value for advice in Advice], "What to do next."),
        "change": figure_schema("db", "Level after less the level before, dB."),
        "grease_kg": schemas.result("Grease given, kg."),
        "left_kg": schemas.result("What is left of the charge, kg."),
        "reasons": schemas.REASONS,
        "cautions": CAUTIONS,
    }
)

BEARING_FREQUENCIES = schemas.inputs(
    ["elements", "element_diameter_m", "pitch_diameter_m", "speed_hz"],
    {
        "elements": {
            "type": "integer",
            "minimum": 1,
            "maximum": 1000,
            "description": "Number of rolling elements.",
        },
        "element_diameter_m": schemas.positive(SIZE_M, "Their diameter, m."),
        "pitch_diameter_m": schemas.positive(SIZE_M, "Diameter of the circle of their middles, m."),
        "contact_angle_deg": {**schemas.at_least_zero(90.0, "Contact angle, degrees."), "default": 0.0},
        "speed_hz": schemas.positive(5000.0, "Speed of one ring against the other, turns per second."),
        "rotating": schemas.choice([ring.value for ring in Ring], "The ring that turns.", Ring.INNER.value),
        "slip": {**schemas.at_least_zero(0.2, "Part by which to look to either side."), "default": SLIP},
    },
)
BEARING_FREQUENCIES_ANSWER = schemas.answer(
    {
        "cage": figure_schema("hz", "Turn of the cage, Hz; its interval is the band to search."),
        "outer_ring": figure_schema("hz", "Damage of the outer ring, Hz."),
        "inner_ring": figure_schema("hz", "Damage of the inner ring, Hz."),
        "element_spin": figure_schema("hz", "Turn of a rolling element, Hz."),
        "element_both": figure_schema("hz", "Damage of an element that strikes both rings, Hz."),
    }
)


def relubrication(data: Mapping[str, Any]) -> Json:
    """Return charge and interval of a bearing's relubrication."""
    charge = grease_charge(float(data["outer_diameter_m"]), float(data["width_m"]))
    interval = relubrication_interval(
        float(data["speed_hz"]),
        float(data["bore_m"]),
        BearingType(data.get("bearing", BearingType.BALL)),
        Duty(
            number(data, "temperature_k"),
            Shaft(data.get("shaft", Shaft.HORIZONTAL)),
            float(data.get("vibration_factor", 1.0)),
            float(data.get("contamination_factor", 1.0)),
        ),
        speed_limit_hz=number(data, "speed_limit_hz"),
    )
    least, most = (None, None) if charge.value is None else portion_kg(charge.value)
    return {
        "charge": figure(charge, "kg"),
        "portion_least_kg": least,
        "portion_most_kg": most,
        "interval": figure(interval, "s"),
        "interval_hours": None if interval.value is None else interval.value / 3600.0,
        "cautions": caution_list(Kind.MECHANICAL_WEAR),
    }


def greasing_record(data: Mapping[str, Any]) -> Json:
    """Return what a greasing did, and what to do next."""
    steps = [
        GreaseStep(Mark(step["mark"]), float(step["grease_kg"]), probe_input.reading_of(step, data))
        for step in data["steps"]
    ]
    charge = number(data, "charge_kg")
    done = greasing(steps, probe_input.baseline_of(data), charge)
    return {
        "outcome": done.outcome.value,
        "advice": done.advice.value,
        "change": figure(done.change, "db"),
        "grease_kg": done.grease_kg,
        "left_kg": done.left_kg,
        "reasons": reason_list(done.reasons),
        "cautions": caution_list(Kind.MECHANICAL_WEAR),
    }


def bearing_frequencies(data: Mapping[str, Any]) -> Json:
    """Return where the rhythms of a damaged bearing lie."""
    found = defect_frequencies(
        Geometry(
            data["elements"],
            float(data["element_diameter_m"]),
            float(data["pitch_diameter_m"]),
            math.radians(data.get("contact_angle_deg", 0.0)),
        ),
        float(data["speed_hz"]),
        rotating=Ring(data.get("rotating", Ring.INNER)),
        slip=float(data.get("slip", SLIP)),
    )
    return {name: figure(getattr(found, name), "hz") for name in BEARING_FREQUENCIES_ANSWER["properties"]}


ROWS = (
    Calculation(
        "relubrication",
        "Grease of a rolling bearing: how much and how often",
        relubrication,
        RELUBRICATION,
        RELUBRICATION_ANSWER,
        {
            "outer_diameter_m": 0.11,
            "width_m": 0.027,
            "bore_m": 0.05,
            "speed_hz": 24.5,
            "temperature_k": 338.15,
        },
        "0.005 g per mm and mm of handbooks; interval of a technical guide; shortening of a handbook page.",
    ),
    Calculation(
        "greasing-record",
        "What a greasing did to the level",
        greasing_record,
        GREASING_RECORD,
        GREASING_RECORD_ANSWER,
        {
            "steps": [
                {"mark": "before", "level_db": 33.0, "grease_kg": 0.0},
                {"mark": "during", "level_db": 27.5, "grease_kg": 0.005},
                {"mark": "after", "level_db": 24.0, "grease_kg": 0.01},
            ],
            "charge_kg": 0.01485,
            "baseline_readings": probe_input.levels(23.1, 24.0, 22.4, 23.6, 24.3, 23.0),
            "good_state": "confirmed",
            "instrument": "detector 3",
            "probe": "rod 100 mm",
            "contact": "held by hand",
            "speed_hz": 24.5,
        },
        "Common practice of greasing by ear; the technician marks each level.",
    ),
    Calculation(
        "bearing-frequencies",
        "Rhythms of a damaged rolling bearing",
        bearing_frequencies,
        BEARING_FREQUENCIES,
        BEARING_FREQUENCIES_ANSWER,
        {"elements": 9, "element_diameter_m": 0.00794, "pitch_diameter_m": 0.03904, "speed_hz": 29.95},
        "Kinematics of rolling without slip (Randall and Antoni 2011, from memory); search 2 % to each side.",
    ),
)
