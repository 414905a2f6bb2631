"""Conditions for tests, kept as the rooms that judge them do."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from findings.conditions import actions
from findings.conditions.models import Condition
from findings.kinds.base import Kind
from findings.kinds.condition import ConditionFound, ConditionSource
from findings.physics.estimate import Reason
from findings.readings.models import Reading


def keep(
    reading: Reading,
    *,
    kind: Kind = Kind.MECHANICAL_WEAR,
    at: datetime | None = None,
    judged_by_id: int | None = None,
    overrules: Condition | None = None,
    **values: Any,
) -> Condition:
    """Keep a condition of a reading: a grave one that asks for a finding, unless told otherwise."""
    given: dict[str, Any] = {
        "source": ConditionSource.INSPECTOR if judged_by_id else ConditionSource.READING,
        "method": "by_ear",
        "version": "1",
        "state": "rough",
        "severity": 4,
        "opens_finding": True,
        "order_due": True,
        "reasons": (Reason("rough", "It sounds rough."),),
    }
    return actions.keep(
        ConditionFound(kind=kind, **{**given, **values}),
        reading=reading,
        at=at or reading.taken_at,
        recorded_at=at or reading.taken_at,
        judged_by_id=judged_by_id,
        overrules=overrules,
    )
