"""Seal tests by a tone source: is the source loud enough, and what the walk along the seam says."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.base import Kind
from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import number
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.figures import (
    CAUTIONS,
    caution_list,
    figure,
    figure_schema,
    reason_list,
    yes_or_no,
)
from findings.kinds.calculations.input_schema import Problem
from findings.kinds.seam_plan import LONGEST_TITLE, seam_plan
from findings.physics.acoustics import BackgroundStatus
from findings.physics.seal_test import (
    LARGEST_EXCESS_DB,
    LARGEST_GAP_M,
    PointResult,
    SeamLeak,
    SeamPoint,
    Verdict,
    Walk,
    seal_test,
)
from findings.physics.seam import Seam
from findings.physics.tone_source import LEAST_DROP_DB, Criterion, SourceCheck, Strength, check_source

RING = "ring"
LONGEST_SEAM_M = 200.0
MOST_POINTS = 500
DOOR_TOLERANCE = 0.05


def level(description: str) -> schemas.Schema:
    """Return the schema of a level in dB."""
    return {"type": "number", "minimum": -200, "maximum": 300, "description": description}


SOURCE = {
    "open_level_db": level("Level through the open door, tone source on, dB."),
    "background_db": level("Level with the tone source off, dB."),
    "criterion": schemas.choice(
        [criterion.value for criterion in Criterion],
        "What a tenth of the open reading means: of the sound pressure, or of the number shown.",
        Criterion.AMPLITUDE.value,
    ),
    "least_drop_db": {
        **schemas.positive(100.0, "Least drop that passes by the criterion amplitude, dB."),
        "default": LEAST_DROP_DB,
    },
    "level_u_db": {
        **schemas.at_least_zero(20.0, "Standard uncertainty of one reading, dB."),
        "default": 1.0,
    },
}
VERDICT = schemas.choice([verdict.value for verdict in Verdict], "What it has come to.")
SEAL_SOURCE = schemas.inputs(["open_level_db", "background_db"], SOURCE)
SOURCE_FIELDS = {
    "strength": schemas.choice(
        [strength.value for strength in Strength], "Whether the source is loud enough."
    ),
    "margin": figure_schema("db", "Open level less background, dB."),
    "limit_level_db": schemas.result("Highest level at the seam that passes, dB."),
}
SEAL_SOURCE_ANSWER = schemas.answer({**SOURCE_FIELDS, "reasons": schemas.REASONS, "cautions": CAUTIONS})

SEAL_TEST = schemas.inputs(
    ["open_level_db", "background_db", "seam_length_m", "points"],
    {
        **SOURCE,
        "seam_length_m": schemas.positive(LONGEST_SEAM_M, "Length of the seam, m."),
        "shape": schemas.choice([RING, "line"], "A ring ends where it begins.", RING),
        "door_width_m": schemas.positive(LONGEST_SEAM_M, "Width of the door a ring frames, for the plan, m."),
        "door_height_m": schemas.positive(LONGEST_SEAM_M, "Its height, m."),
        "points": {
            "type": "array",
            "minItems": 1,
            "maxItems": MOST_POINTS,
            "items": schemas.inputs(
                ["position_m", "level_db"],
                {
                    "position_m": schemas.at_least_zero(LONGEST_SEAM_M, "Place along the seam, m."),
                    "level_db": level("Peak-held level there, dB."),
                    "background_db": level("Background there, if it differs, dB."),
                },
            ),
            "description": "Levels along the seam; a door's places run clockwise from its lower left corner.",
        },
        "largest_excess_db": {
            **schemas.positive(100.0, "Excess over the intact seam from which to watch, dB."),
            "default": LARGEST_EXCESS_DB,
        },
        "largest_gap_m": {
            **schemas.positive(10.0, "Largest distance between points, m."),
            "default": LARGEST_GAP_M,
        },
        "open_distance_m": schemas.positive(100.0, "Distance of the open reading, m."),
        "scan_distance_m": schemas.positive(100.0, "Distance of the walk, m."),
        "title": {
            "type": "string",
            "minLength": 0,
            "maxLength": LONGEST_TITLE,
            "description": "Name of the enclosure, for the plan.",
        },
    },
)
_PLACE = {"position_m": schemas.result("Place along the seam, m.")}
_HEARD = {
    "level_db": schemas.result("Level without background, dB."),
    "drop_db": schemas.result("Drop from the open level, dB; at least that for an upper bound."),
    "amplitude_percent": schemas.result("Sound pressure left, in per cent of the open reading."),
    "verdict": VERDICT,
}
POINT_ANSWER = schemas.answer(
    {
        **_PLACE,
        **_HEARD,
        "background": schemas.choice(
            [status.value for status in BackgroundStatus], "What became of the background."
        ),
        "excess_db": schemas.result("Excess over the intact seam, dB."),
    }
)
LEAK_ANSWER = schemas.answer(
    {
        "number": {"type": "integer", "description": "Number on the plan."},
        "position": figure_schema("m", "Where along the seam, m."),
        **_HEARD,
    }
)
GAP_ANSWER = schemas.answer(
    {
        "from_m": schemas.result("Where the stretch begins, m."),
        "to_m": schemas.result("Where it ends, m; on a ring it may run over the start."),
    }
)
SEAL_TEST_ANSWER = schemas.answer(
    {
        "verdict": {**VERDICT, "description": "What the whole seam has come to."},
        **SOURCE_FIELDS,
        "smallest_drop": figure_schema("db", "Drop at the loudest point, dB."),
        "intact_level_db": schemas.result("Level of the intact seam, the median, dB."),
        "excess_rule_used": yes_or_no("Whether points were compared with the intact seam."),
        "points": schemas.listing(POINT_ANSWER, "The points, rising along the seam."),
        "leaks": schemas.listing(LEAK_ANSWER, "The places where the tone comes out."),
        "not_walked": schemas.listing(GAP_ANSWER, "Stretches without a point."),
        "plan_svg": schemas.result("Plan of the seam as SVG; null where the walk was refused.", "string"),
        "reasons": schemas.REASONS,
        "cautions": CAUTIONS,
    }
)


def seal_source(data: Mapping[str, Any]) -> Json:
    """Return whether the source is loud enough, before the walk."""
    check = check_source(
        float(data["open_level_db"]),
        float(data["background_db"]),
        criterion=Criterion(data.get("criterion", Criterion.AMPLITUDE)),
        least_drop_db=float(data.get("least_drop_db", LEAST_DROP_DB)),
        level_u_db=float(data.get("level_u_db", 1.0)),
    )
    return {
        **_source(check),
        "reasons": reason_list(check.reasons),
        "cautions": caution_list(Kind.ENCLOSURE_LEAK),
    }


def _source(check: SourceCheck) -> Json:
    """Return what ``SOURCE_FIELDS`` describe."""
    return {
        "strength": check.strength.value,
        "margin": figure(check.margin, "db"),
        "limit_level_db": check.limit_level_db,
    }


def seal_walk(data: Mapping[str, Any]) -> Json:
    """Return what a walk along a seam says, with a plan of it."""
    walk = _walk(data)
    door = _door(data, walk.seam)
    result = seal_test(walk)
    return {
        "verdict": result.verdict.value,
        **_source(result.source),
        "smallest_drop": figure(result.smallest_drop, "db"),
        "intact_level_db": result.intact_level_db,
        "excess_rule_used": result.excess_rule_used,
        "points": [_point(point) for point in result.points],
        "leaks": [_leak(leak) for leak in result.leaks],
        "not_walked": [{"from_m": start, "to_m": end} for start, end in result.gaps],
        "plan_svg": seam_plan(walk.seam, result, title=data.get("title", "Seam"), door=door)
        if result.points
        else None,
        "reasons": reason_list(result.reasons),
        "cautions": caution_list(Kind.ENCLOSURE_LEAK),
    }


def _walk(data: Mapping[str, Any]) -> Walk:
    """Return the walk of an input."""
    points = [
        SeamPoint(float(item["position_m"]), float(item["level_db"]), number(item, "background_db"))
        for item in data["points"]
    ]
    return Walk(
        seam=Seam(float(data["seam_length_m"]), ring=data.get("shape", RING) == RING),
        open_level_db=float(data["open_level_db"]),
        background_db=float(data["background_db"]),
        points=points,
        criterion=Criterion(data.get("criterion", Criterion.AMPLITUDE)),
        least_drop_db=float(data.get("least_drop_db", LEAST_DROP_DB)),
        largest_excess_db=float(data.get("largest_excess_db", LARGEST_EXCESS_DB)),
        largest_gap_m=float(data.get("largest_gap_m", LARGEST_GAP_M)),
        level_u_db=float(data.get("level_u_db", 1.0)),
        open_distance_m=number(data, "open_distance_m"),
        scan_distance_m=number(data, "scan_distance_m"),
    )


def _door(data: Mapping[str, Any], seam: Seam) -> tuple[float, float] | None:
    """Return the door's width and height; raises InvalidInput where they don't fit the seam."""
    width, height = number(data, "door_width_m"), number(data, "door_height_m")
    if width is None and height is None:
        return None
    if width is None or height is None or not seam.ring:
        raise InvalidInput(Problem("/door_width_m", "needs door_height_m beside it, and a ring"))
    if abs(2.0 * (width + height) - seam.length_m) > DOOR_TOLERANCE * seam.length_m:
        text = "and door_height_m must make a frame as long as the seam, within 5 %"
        raise InvalidInput(Problem("/door_width_m", text))
    return width, height


def _point(point: PointResult) -> Json:
    """Return what ``POINT_ANSWER`` describes."""
    return {
        **point._asdict(),
        "background": point.background.value,
        "verdict": point.verdict.value,
    }


def _leak(leak: SeamLeak) -> Json:
    """Return what ``LEAK_ANSWER`` describes."""
    return {
        **leak._asdict(),
        "position": figure(leak.position, "m"),
        "verdict": leak.verdict.value,
    }


_LEVELS = (18.2, 18.0, 18.4, 24.7, 39.0, 39.3, 25.4, 18.0, 18.1, 18.1, 18.3, 18.0)

ROWS = (
    Calculation(
        "seal-source",
        "Is the tone source loud enough for a seal test",
        seal_source,
        SEAL_SOURCE,
        SEAL_SOURCE_ANSWER,
        {"open_level_db": 52.0, "background_db": 10.0},
        "20 dB between open level and background: level difference after ISO 16283, from memory.",
    ),
    Calculation(
        "seal-test",
        "Seal test of an enclosure by a tone source, along its seam",
        seal_walk,
        SEAL_TEST,
        SEAL_TEST_ANSWER,
        {
            "open_level_db": 52.0,
            "background_db": 5.0,
            "seam_length_m": 6.0,
            "door_width_m": 0.9,
            "door_height_m": 2.1,
            "points": [
                {"position_m": 0.5 * place, "level_db": level_db} for place, level_db in enumerate(_LEVELS)
            ],
            "title": "Proving cabinet 2, door",
        },
        "Level difference after ISO 16283 with the survey correction of ISO 3746 (both from memory), point "
        "by point; a tenth of the open reading: surveyors' practice; no flow: ASTM E1002, method B.",
    ),
)
