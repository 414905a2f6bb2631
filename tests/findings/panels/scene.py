"""A switchgear panel at a site, the people around it, and the short way to hear a discharge there."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from findings.conditions.models import Condition
from findings.kinds.base import Kind
from findings.panels import actions
from findings.panels.models import ElectricalQualification, OpeningRelease
from findings.plant.rules import Method
from findings.readings.models import Reading
from findings.register import actions as register
from findings.register.models import Finding
from plantcare.api.actor import Actor
from plantcare.people.models import User
from tests.makers import NOW, make_instrument, make_point, make_site, make_survey, new_reading
from tests.people import actor, make_user, member

DAY = timedelta(days=1)
JOB = Actor.job("judge_discharge")
FOUND = "The thermal picture shows no warm joint."
ON_CONDITION = "Only with the switch room's door open, two people."


class Panel:
    """One site with a panel, an inspector, a manager and a qualified technician."""

    def __init__(self, **site: Any) -> None:
        self.site = make_site(**site)
        self.point = make_point(self.site, method=Method.ELECTRICAL)
        self.survey = make_survey(self.site)
        self.instrument = make_instrument(self.site)
        self.inspector = member(self.site, "inspector")
        self.manager = member(self.site, "manager")
        self.electrician = member(self.site, "technician")

    def read(self, at: datetime = NOW, **values: Any) -> Reading:
        """Take a reading at the panel; it names a discharge unless told otherwise."""
        given = {"kind": Kind.ELECTRICAL_DISCHARGE, "level_db": 30.0, "instrument_id": self.instrument.pk}
        given |= {"distance_m": 0.5, "medium": "", **values}
        item = new_reading(self.point, taken_at=at, **given)
        taken = register.take_reading(
            actor=actor(self.inspector), at=at + DAY, survey_id=self.survey.pk, item=item
        )
        return taken.reading

    def quiet(self, at: datetime = NOW, **values: Any) -> Reading:
        """Take a reading at the panel that names nothing."""
        return self.read(at, kind="", **values)

    def judge(self, at: datetime) -> dict[str, int]:
        """Run the job."""
        return actions.judge_discharge(actor=JOB, at=at)

    def hear(self, word: str = "tracking", at: datetime = NOW, **values: Any) -> Condition:
        """Name a discharge by its word and have it judged a day later."""
        reading = self.read(at, pattern=word, **values)
        self.judge(at + DAY)
        return Condition.objects.get(reading=reading)

    def finding(self) -> Finding:
        """Return the one finding there is."""
        return Finding.objects.get(point=self.point)

    def qualify(
        self, user: User | None = None, *, at: datetime = NOW, days: int = 365
    ) -> ElectricalQualification:
        """Confirm that somebody is qualified."""
        return actions.confirm_qualification(
            actor=actor(self.manager),
            at=at,
            site_id=self.site.pk,
            user_id=(user or self.electrician).pk,
            ground="Course for switchgear, passed in 2025",
            until_at=at + days * DAY,
        )

    def release(
        self, at: datetime, *, by: User | None = None, days: int = 7, **values: Any
    ) -> OpeningRelease:
        """Release the opening by the qualified technician."""
        given = {"technique": "thermography", "found": FOUND, "conditions": ON_CONDITION, **values}
        return actions.release_opening(
            actor=actor(by or self.electrician),
            at=at,
            finding_id=given.pop("finding_id", None) or self.finding().pk,
            until_at=at + days * DAY,
            **given,
        )


def somebody_else() -> User:
    """Return a person who works nowhere."""
    return make_user()
