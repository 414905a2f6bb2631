"""What a walk's verdict says of an enclosure's condition: severity, order, next look."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final

from findings.kinds.base import Kind
from findings.kinds.condition import ConditionFound, ConditionSource
from findings.physics.seal_test import METHOD, VERSION, SealResult, Verdict

SEVERITY_ABOVE_LIMIT: Final = ((6.0, 3), (14.0, 4))
"""Severity of a failed seam by how far its loudest place lies above the passing level, in dB.

Up to 6 dB (up to a fifth of the open sound pressure passes): 3, marked. Up to 14 dB (up to half of it): 4,
severe. Above (more than half passes, the door hardly shuts): 5, acute. Our judgement.
"""
OPEN_DOOR_SEVERITY: Final = 5
SEVERITY: Final[Mapping[Verdict, int | None]] = MappingProxyType(
    {Verdict.PASS: 1, Verdict.WATCH: 2, Verdict.NOT_DETERMINED: None}
)
LOOK_AGAIN_DAYS: Final[Mapping[Verdict, int]] = MappingProxyType(
    {Verdict.FAIL: 30, Verdict.NOT_DETERMINED: 14, Verdict.WATCH: 90, Verdict.PASS: 365}
)
"""The longest that the next walk may wait (our judgement; class and law may ask for less)."""


def severity_of(result: SealResult) -> int | None:
    """Return the step of 1 to 5 of a judged seam; None where nothing can be told."""
    if result.verdict is not Verdict.FAIL:
        return SEVERITY[result.verdict]
    limit = result.source.limit_level_db
    loudest = max(point.level_db for point in result.points)
    above = loudest - limit if limit is not None else 0.0
    steps = (step for most_db, step in SEVERITY_ABOVE_LIMIT if above <= most_db + 1e-9)
    return next(steps, OPEN_DOOR_SEVERITY)


def is_fault(result: SealResult) -> bool:
    """Tell whether the walk found a place to write down, even on a seam that wasn't walked whole."""
    return any(point.verdict in {Verdict.FAIL, Verdict.WATCH} for point in result.points)


def condition_of(result: SealResult, inputs: Mapping[str, Any]) -> ConditionFound:
    """Return the condition that a judged walk says of the seam."""
    verdict = result.verdict
    order_due = None if verdict is Verdict.NOT_DETERMINED else verdict is Verdict.FAIL
    return ConditionFound(
        kind=Kind.ENCLOSURE_LEAK,
        source=ConditionSource.SEAM_WALK,
        method=METHOD,
        version=VERSION,
        state=verdict.value,
        severity=severity_of(result),
        opens_finding=is_fault(result),
        order_due=order_due,
        look_again_days=LOOK_AGAIN_DAYS[verdict],
        figures=_figures(result, inputs),
        inputs=inputs,
        reasons=result.reasons,
    )


def _figures(result: SealResult, inputs: Mapping[str, Any]) -> dict[str, Any]:
    smallest = result.smallest_drop
    return {
        "smallest_drop_db": smallest.value,
        "smallest_drop_low_db": smallest.low,
        "smallest_drop_high_db": smallest.high,
        "criterion": inputs["criterion"],
        "limit_level_db": result.source.limit_level_db,
        "intact_level_db": result.intact_level_db,
        "places": len(result.points),
        "leaks": [
            {"position_m": leak.position.value, "drop_db": leak.drop_db, "verdict": leak.verdict.value}
            for leak in result.leaks
        ],
        "not_walked_m": [[start, end] for start, end in result.gaps],
    }
