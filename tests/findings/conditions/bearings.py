"""A bearing at the demo's kind of plant, listened to with one contact probe, always the same way."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from findings.conditions import actions
from findings.conditions.models import GoodState
from findings.kinds.base import Kind
from findings.plant.models import MeasuringPoint, Site
from findings.readings.rules import NewReading
from findings.register.actions import Taken, take_readings
from findings.register.models import Finding
from plantcare.api.actor import Actor
from tests.makers import NOW, make_asset, make_instrument, make_point, make_site, make_survey, number

ACTOR = Actor(user_id=None, name="Ines Falk", request_id="req-test")
BEGAN = NOW - timedelta(days=60)
GOOD_DB = (23.1, 24.0, 22.4, 23.6, 24.3, 23.0)
"""Mean 23.4 dB, sd 0.69 dB: six readings, so that the limit lies 3.7 dB higher."""
MEAN_DB = 23.4


class Bearing:
    """One measuring point under a contact probe, with a running survey."""

    def __init__(self, site: Site | None = None) -> None:
        self.site = site or make_site()
        self.point: MeasuringPoint = make_point(
            asset=make_asset(self.site, name="Conveyor drive"), method="contact"
        )
        self.survey = make_survey(self.site, started_at=BEGAN, instrument=make_instrument(self.site))

    def confirm(self, from_at: datetime = BEGAN, **values: Any) -> GoodState:
        """Say that the machine was good from a moment on."""
        given = {"cause": "confirmed_good", "reason": "Runs smoothly, checked by hand."}
        return actions.confirm_good(
            actor=ACTOR,
            at=max(NOW, from_at),
            point_id=self.point.pk,
            from_at=from_at,
            **{**given, **values},
        )

    def good(self) -> Bearing:
        """Confirm the good state and take six readings of it, five days apart."""
        self.confirm()
        self.take(*(self.item(level, at=BEGAN + timedelta(days=5 * n)) for n, level in enumerate(GOOD_DB)))
        return self

    def item(self, level_db: float, *, at: datetime = NOW, **values: Any) -> NewReading:
        """Describe a quiet reading."""
        given: dict[str, Any] = {
            "client_id": f"probe-{number()}",
            "attachment": "contact_probe",
            "probe": "rod 100 mm",
            "shaft_speed_hz": 24.5,
        }
        return NewReading(point_id=self.point.pk, taken_at=at, level_db=level_db, **{**given, **values})

    def take(self, *items: NewReading) -> list[Taken]:
        """Take readings at once."""
        last = max(item.taken_at for item in items)
        taken = take_readings(actor=ACTOR, at=max(last, NOW), survey_id=self.survey.pk, items=items)
        return [one for one in taken if isinstance(one, Taken)]

    def listen(self, level_db: float, *, at: datetime = NOW, **values: Any) -> Taken:
        """Take one quiet reading."""
        return self.take(self.item(level_db, at=at, **values))[0]

    def worn(self, level_db: float, *, at: datetime = NOW, **values: Any) -> Finding:
        """Take a reading that names wear, and return its finding."""
        given = {"kind": Kind.MECHANICAL_WEAR, "severity": 3}
        finding = self.listen(level_db, at=at, **{**given, **values}).finding
        assert finding is not None
        return finding
