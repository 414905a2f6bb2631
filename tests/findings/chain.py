"""A plant with one priced air network and one point, and the short way to let things happen there."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from findings.losses.models import LossSegment
from findings.plant.models import MeasuringPoint
from findings.register import actions
from findings.register.models import Finding
from plantcare.api.actor import Actor
from tests.makers import (
    NOW,
    make_asset,
    make_connection,
    make_point,
    make_priced_system,
    make_site,
    make_survey,
    new_reading,
)

ACTOR = Actor(user_id=None, name="Ines Falk", request_id="req-test")
LATER = NOW + timedelta(days=400)
"""The clock of acts that a test does not date: long after everything that happened."""

M3_PER_H = Decimal(1) / Decimal(3600)


class Plant:
    """One site with an asset on an air network, a measuring point and a running survey."""

    def __init__(self, **system: Any) -> None:
        self.site = make_site()
        self.system = make_priced_system(self.site, **system)
        self.asset = make_asset(self.site)
        make_connection(self.asset, self.system)
        self.point = self.another_point()
        self.survey = make_survey(self.site)

    def another_point(self) -> MeasuringPoint:
        """Return a further point on the asset."""
        return make_point(asset=self.asset)

    def take(self, point: MeasuringPoint | None = None, *, at: datetime = LATER, **values: Any) -> Any:
        """Take one reading; ``m3_per_h`` is a metered flow."""
        flow = values.pop("m3_per_h", None)
        if flow is not None:
            values |= {"flow_m3_per_s": flow / 3600, "flow_u_m3_per_s": 0.0, "flow_method": "flow_meter"}
        item = new_reading(point or self.point, **values)
        return actions.take_reading(actor=ACTOR, at=at, survey_id=self.survey.pk, item=item)

    def leak(self, m3_per_h: float = 10.0, point: MeasuringPoint | None = None, **values: Any) -> Finding:
        """Find a leak of so many cubic metres an hour."""
        return self.take(point, m3_per_h=m3_per_h, **values).finding


def chain(finding: Finding) -> list[tuple[datetime, datetime | None, float, str, str]]:
    """Return a finding's live segments: from, to, rate in m3/h, why it begins and ends."""
    rows = LossSegment.objects.filter(finding=finding, void_at__isnull=True).order_by("started_at")
    return [
        (
            row.started_at,
            row.ended_at,
            round(float(row.leak_rate_m3_per_s) * 3600, 4),
            row.start_reason,
            row.end_reason,
        )
        for row in rows
    ]
