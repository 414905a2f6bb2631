"""How a seam is tested, as it arrives, and what is wrong with that."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType
from typing import Any, Final

from findings.physics.tone_source import Criterion
from findings.seals.rules.outlines import outline_problems
from findings.seals.rules.walks import FUTURE_TOLERANCE
from findings.seals.rules.words import Problem, SeamForm

USUAL_DISTANCE_M: Final = 0.1
BOUNDS: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "length_m": (0.1, 200.0),
        "distance_m": (0.01, 5.0),
        "source_band_centre_hz": (1_000.0, 200_000.0),
        "source_level_db": (-40.0, 200.0),
    }
)
"""What can be meant; anything outside is a slip of the pen or of the unit (our judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewSeam:
    """How the seam at a measuring point is tested from a moment on: lengths in m, band in Hz, level in dB."""

    point_id: uuid.UUID
    shape: str
    length_m: float
    source_description: str
    from_at: datetime | None = None
    outline: Mapping[str, Any] = field(default_factory=dict)
    source_band_centre_hz: float | None = None
    source_level_db: float | None = None
    distance_m: float = USUAL_DISTANCE_M
    criterion: str = Criterion.AMPLITUDE.value
    note: str = ""


def range_problem(member: str, value: float | None) -> list[Problem]:
    """Say whether a number of BOUNDS lies outside of what can be meant."""
    low, high = BOUNDS[member]
    if value is None or low <= value <= high:
        return []
    return [Problem(member, "out_of_range", f"It lies between {low:g} and {high:g}.")]


def seam_problems(seam: NewSeam, at: datetime) -> list[Problem]:
    """Say what refuses a seam at a moment of the clock."""
    found = [problem for member in BOUNDS for problem in range_problem(member, getattr(seam, member))]
    if seam.from_at is not None and seam.from_at > at + FUTURE_TOLERANCE:
        found.append(Problem("from_at", "in_future", "It holds from now or earlier: check the clock."))
    return found or outline_problems(seam.outline, seam.length_m, ring=seam.shape == SeamForm.RING)
