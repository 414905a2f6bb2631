"""What a finding's page tells of a bearing: which judgement stands, what each way of listening said last."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from findings.conditions.queries import conditions, particulars_at
from findings.kinds.base import Kind
from findings.kinds.wear_condition import METHOD as BY_LEVEL
from findings.kinds.wear_sound import METHOD as BY_SOUND
from findings.register.models import Finding
from workorders.desk.rules.wear import level_rows, sound_rows

MOST_SHOWN = 12


@dataclass(frozen=True, slots=True)
class WearTold:
    """The judgement that stands, the newest by level and by sound with their rows, and the last dozen."""

    standing: Any
    by_level: Any
    level_rows: list[tuple[str, str]]
    by_sound: Any
    sound_rows: list[tuple[str, str]]
    judgements: list[Any]
    designation: str


def wear_told(finding: Finding, zone: str) -> WearTold | None:
    """Return what is known of a finding of wear since it opened; None for every other kind."""
    if finding.kind != Kind.MECHANICAL_WEAR:
        return None
    rows = conditions().filter(point_id=finding.point_id, kind=finding.kind, at__gte=finding.opened_at)
    judgements = list(rows.select_related("judged_by"))
    level = next((one for one in judgements if one.method == BY_LEVEL), None)
    sound = next((one for one in judgements if one.method == BY_SOUND), None)
    known = particulars_at(finding.point_id, finding.last_heard_at)
    return WearTold(
        standing=next((one for one in judgements if one.pk == finding.condition_id), None),
        by_level=level,
        level_rows=[] if level is None else level_rows(level.figures, level.at, zone),
        by_sound=sound,
        sound_rows=[] if sound is None else sound_rows(sound.figures),
        judgements=judgements[:MOST_SHOWN],
        designation="" if known is None else known.designation,
    )
