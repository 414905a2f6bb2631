"""What an electrical recording sounds like, from the figures that were taken of it."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.calculations import schemas
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.sound import discharge
from findings.sound.discharge import Features, Sound, classify

RISING = "rising"

DISCHARGE_CLASS = schemas.inputs(
    [
        "seconds",
        "level_db",
        "harmonics",
        "comb_db",
        "high_share",
        "high_share_at_most",
        "cycle_cv",
    ],
    {
        "seconds": schemas.at_least_zero(1e5, "Length of the recording, s."),
        "level_db": schemas.between(-400.0, 100.0, "Level in the band analysed, dB re full scale (rms 1.0)."),
        "clipped_share": {**schemas.between(0.0, 1.0, "Share of samples at full scale."), "default": 0.0},
        "mains_hz": {**schemas.between(40.0, 70.0, "Mains frequency found, Hz."), "default": 50.0},
        "harmonics": {
            "type": "integer",
            "minimum": 0,
            "maximum": 10,
            "description": "How many of the mains orders 1 to 10 stand out of the envelope's spectrum.",
        },
        "other_lines": {
            "type": "integer",
            "minimum": 0,
            "maximum": 600,
            "default": 0,
            "description": "How many other lines stand out of it between 2 and 600 Hz.",
        },
        "comb_db": schemas.between(-99.0, 99.0, "Power of those orders over the rest of the envelope's, dB."),
        "depth": {**schemas.at_least_zero(1e3, "Depth of their modulation."), "default": 0.0},
        "second_to_first_db": schemas.between(-99.0, 99.0, "Power of order 2 over order 1, dB."),
        "high_share": schemas.between(0.0, 1.0, "Share of orders 3 to 10 in that power."),
        "high_share_at_most": schemas.between(0.0, 1.0, "The same, with orders too faint to stand out."),
        "cycle_cv": schemas.at_least_zero(1e4, "Scatter of the energy per mains cycle over its mean."),
        "loud_cycles_per_s": {
            **schemas.at_least_zero(1e3, "Mains cycles a second that stand out."),
            "default": 0.0,
        },
        "bursts_per_s": {**schemas.at_least_zero(1e4, "Bursts a second."), "default": 0.0},
        "burst_duty": {**schemas.between(0.0, 1.0, "Share of the time that they last."), "default": 0.0},
        "nominal_v": schemas.at_least_zero(2e6, "Nominal voltage of the equipment, V."),
        "level_trend": schemas.choice(
            [RISING, "not rising", "unknown"], "Level against earlier readings of the same point.", "unknown"
        ),
    },
)

CHANGE = schemas.answer(
    {
        "figure": {"type": "string", "description": "The input that was moved."},
        "value": schemas.result("What it is."),
        "limit": schemas.result("The limit it was moved across."),
        "sound": schemas.choice([sound.value for sound in Sound], "The class beyond the limit."),
        "text": {"type": "string", "description": "The same for people."},
    }
)
DISCHARGE_CLASS_ANSWER = schemas.answer(
    {
        "sound": schemas.choice([sound.value for sound in Sound], "What it sounds like; never a diagnosis."),
        "label": {"type": "string", "description": "The class in words, doubted where the voltage is low."},
        "rule": {"type": "string", "description": "Code of the rule that fired."},
        "changes": schemas.listing(CHANGE, "Which figure, moved alone, would give another class."),
        "follow_up": {"type": "boolean", "description": "Whether a qualified person has to follow up."},
        "keeps_doors_shut": {
            "type": "boolean",
            "description": "Whether nothing may be opened until a qualified person has released it.",
        },
        "cautions": schemas.listing({"type": "string"}, "What to tell the person who stands before it."),
        "reasons": schemas.REASONS,
        "method": schemas.PROVENANCE["method"],
        "method_version": schemas.PROVENANCE["method_version"],
    }
)


def discharge_class(data: Mapping[str, Any]) -> Json:
    """Return the class of a recording's figures, the rule, what would change it, and what to do."""
    if data["high_share"] > data["high_share_at_most"]:
        raise InvalidInput(Problem("/high_share_at_most", "must not be below high_share"))
    second = data.get("second_to_first_db")
    verdict = classify(
        Features(
            seconds=float(data["seconds"]),
            level_db=float(data["level_db"]),
            clipped_share=float(data.get("clipped_share", 0.0)),
            mains_hz=float(data.get("mains_hz", 50.0)),
            harmonics=data["harmonics"],
            other_lines=data.get("other_lines", 0),
            comb_db=float(data["comb_db"]),
            depth=float(data.get("depth", 0.0)),
            second_to_first_db=None if second is None else float(second),
            high_share=float(data["high_share"]),
            high_share_at_most=float(data["high_share_at_most"]),
            cycle_cv=float(data["cycle_cv"]),
            loud_cycles_per_s=float(data.get("loud_cycles_per_s", 0.0)),
            bursts_per_s=float(data.get("bursts_per_s", 0.0)),
            burst_duty=float(data.get("burst_duty", 0.0)),
        ),
        nominal_v=data.get("nominal_v"),
        rising=data.get("level_trend") == RISING,
    )
    return {
        "sound": verdict.sound.value,
        "label": verdict.label,
        "rule": verdict.rule.code,
        "changes": [{**change._asdict(), "sound": change.sound.value} for change in verdict.changes],
        "follow_up": verdict.follow_up,
        "keeps_doors_shut": verdict.keeps_doors_shut,
        "cautions": list(verdict.cautions),
        "reasons": [reason._asdict() for reason in verdict.reasons],
        "method": discharge.METHOD,
        "method_version": discharge.VERSION,
    }


ROWS = (
    Calculation(
        "discharge-class",
        "What a recording at closed electrical equipment sounds like",
        discharge_class,
        DISCHARGE_CLASS,
        DISCHARGE_CLASS_ANSWER,
        {
            "seconds": 12.0,
            "level_db": -24.0,
            "harmonics": 9,
            "comb_db": 4.1,
            "depth": 1.1,
            "second_to_first_db": -1.5,
            "high_share": 0.42,
            "high_share_at_most": 0.43,
            "cycle_cv": 0.28,
            "nominal_v": 11000.0,
        },
        "Open rules after published descriptions of each sound; proved on invented sound only.",
    ),
)
