"""What a finding's page tells of a discharge: every judgement, what keeps it shut, who may release it."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from findings.kinds.base import Kind
from findings.panels import queries as panels
from findings.register.models import Finding
from plantcare.api.etags import stale


@dataclass(frozen=True, slots=True)
class DischargeTold:
    """What stands, the newest judgement with figures of a recording (None without one), and all of them."""

    standing: Any
    heard: Any
    judgements: list[Any]
    panel: Any
    kept_shut: bool
    releases: list[tuple[Any, str]]
    who_may: str


def discharge_told(finding: Finding, at: datetime) -> DischargeTold | None:
    """Return what is known of a finding of discharge; None for every other kind."""
    if finding.kind != Kind.ELECTRICAL_DISCHARGE:
        return None
    judgements = panels.discharges_of(finding)
    return DischargeTold(
        standing=next((one for one in judgements if one.pk == finding.condition_id), None),
        heard=next((one for one in judgements if one.figures.get("features")), None),
        judgements=judgements,
        panel=panels.particulars_at(finding.point_id, at),
        kept_shut=bool(panels.kept_shut([finding.point_id], at)),
        releases=[(release, state.value) for release, state in panels.releases_of(finding, at)],
        who_may=panels.who_may_release(finding.site_id, at),
    )


def standing_condition(finding_id: uuid.UUID, version: int) -> uuid.UUID:
    """Return the judgement that the sender of a form saw standing. Raises 412 when another one does now."""
    finding = Finding.objects.get(pk=finding_id)
    if finding.version != version or finding.condition_id is None:
        raise stale(finding.version)
    return finding.condition_id
