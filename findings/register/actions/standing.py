"""Which judged condition a finding rests on, as the columns that say so."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from findings.conditions import queries as conditions
from findings.register.models import Finding


def condition_fields(finding: Finding, since: datetime) -> dict[str, Any]:
    """Return the condition that stands for a finding among those since it was opened, with its severity."""
    standing = conditions.standing_at(finding.point_id, finding.kind, since)
    return {"condition": standing, "condition_severity": None if standing is None else standing.severity}
