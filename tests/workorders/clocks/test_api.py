"""The doors of the clocks room."""

from __future__ import annotations

from datetime import timedelta

import pytest

from findings.plant.models import Site
from plantcare.api.actor import Actor
from tests.makers import NOW, make_site
from tests.people import api_as
from tests.workorders.scene import gas_heard
from workorders.clocks.actions import escalate
from workorders.clocks.models import Escalation


@pytest.fixture
def site(db: None) -> Site:
    """Return a site where a hazard has aged through every step."""
    finding = gas_heard()
    escalate(actor=Actor.job("escalate_findings"), at=NOW + timedelta(days=2))
    return finding.site


class TestEscalations:
    @pytest.mark.parametrize(
        ("query", "count"),
        [({}, 4), ({"to_role": "planner"}, 2), ({"taken": "false"}, 4), ({"taken": "true"}, 0)],
    )
    def test_narrow(self, site: Site, query: dict[str, str], count: int) -> None:
        assert len(api_as("inspector", site).get("/escalations", **query).json()["results"]) == count

    def test_are_hidden_from_other_sites(self, site: Site) -> None:
        assert api_as("manager", make_site()).get("/escalations").json()["results"] == []

    def test_are_taken_by_the_role_that_was_told(self, site: Site) -> None:
        told = Escalation.objects.get(step=1)

        answer = api_as("technician", site).post(f"/escalations/{told.pk}/take")

        assert (answer.status_code, answer.json()["taken_at"] is not None) == (200, True)

    def test_are_taken_once(self, site: Site) -> None:
        told = Escalation.objects.get(step=1)
        api_as("technician", site).post(f"/escalations/{told.pk}/take")

        answer = api_as("technician", site).post(f"/escalations/{told.pk}/take")

        assert (answer.status_code, answer.json()["code"]) == (409, "escalation_taken")

    def test_are_not_taken_by_those_who_only_look(self, site: Site) -> None:
        told = Escalation.objects.get(step=4)

        assert api_as("inspector", site).post(f"/escalations/{told.pk}/take").status_code == 403
