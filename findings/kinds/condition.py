"""What a reading, a recording or a walk along a seam says of a condition, in one form for every kind."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from findings.kinds.base import Kind
from findings.physics.estimate import Reason


class ConditionSource(StrEnum):
    """What a condition was judged from."""

    READING = "reading"
    RECORDING = "recording"
    SEAM_WALK = "seam_walk"
    INSPECTOR = "inspector"


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionFound:
    """A judged condition: a word of its method, a severity of 1 to 5, what follows, and why.

    ``severity`` and ``order_due`` are None where nothing can be told, which is never "no": a finding
    stays a finding. ``opens_finding`` says whether a fault is to be written down even though nobody named
    one. ``keeps_shut`` forbids tasks that open the enclosure until a qualified person releases them.
    ``look_again_days`` is the longest that the next look may wait. ``figures`` and ``inputs`` are plain
    JSON with units in their names; ``figures`` are for people, ``inputs`` compute the same once more.
    """

    kind: Kind
    source: ConditionSource
    method: str
    version: str
    state: str
    severity: int | None
    opens_finding: bool
    order_due: bool | None
    keeps_shut: bool = False
    look_again_days: int | None = None
    figures: Mapping[str, Any] = field(default_factory=dict)
    inputs: Mapping[str, Any] = field(default_factory=dict)
    reasons: tuple[Reason, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a severity that is no step of 1 to 5 and a next look that isn't ahead."""
        if self.severity is not None and not 1 <= self.severity <= 5:
            msg = "A severity is a step of 1 to 5."
            raise ValueError(msg)
        if self.look_again_days is not None and self.look_again_days < 1:
            msg = "The next look lies at least a day ahead."
            raise ValueError(msg)
