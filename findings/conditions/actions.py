"""Keep judged conditions. Called inside an act that says what they mean and writes the logbook."""

from __future__ import annotations

from datetime import datetime

from findings.conditions.models import Condition
from findings.kinds.condition import ConditionFound
from findings.readings.models import Reading
from plantcare.api.problems import Conflict, constraint_refusals


class OverruledAlready(Conflict):
    """A judgement is set aside once; the one that did it may be set aside in turn."""

    code = "condition_overruled_already"
    title = "This judgement was set aside already; judge the newer one."


constraint_refusals["condition_overruled_once"] = OverruledAlready


def keep(
    found: ConditionFound,
    *,
    reading: Reading,
    at: datetime,
    recorded_at: datetime,
    judged_by_id: int | None = None,
    overrules: Condition | None = None,
) -> Condition:
    """Keep what was judged from a reading; ``at`` is the moment that it speaks of."""
    return Condition.objects.create(
        site_id=reading.site_id,
        point_id=reading.point_id,
        reading=reading,
        kind=found.kind,
        source=found.source,
        method=found.method,
        method_version=found.version,
        state=found.state,
        severity=found.severity,
        opens_finding=found.opens_finding,
        order_due=found.order_due,
        keeps_shut=found.keeps_shut,
        look_again_days=found.look_again_days,
        figures=dict(found.figures),
        inputs=dict(found.inputs),
        reasons=[reason._asdict() for reason in found.reasons],
        judged_by_id=judged_by_id,
        overrules=overrules,
        at=at,
        recorded_at=recorded_at,
    )
