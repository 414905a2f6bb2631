"""Who may do what at the doors of surveys, readings, findings and deferrals."""

from __future__ import annotations

import uuid

import pytest

from tests.findings.chain import Plant
from tests.makers import NOW
from tests.people import api_as, api_of_nobody

pytestmark = pytest.mark.django_db

ROLES = ("inspector", "planner", "technician", "manager", "integrator")
EVERYBODY = set(ROLES)


def survey(plant: Plant):
    """Begin a survey."""
    return "/surveys", {"site_id": str(plant.site.pk), "code": "W10"}


def reading(plant: Plant):
    """Send a reading."""
    item = {"client_id": str(uuid.uuid4()), "point_id": str(plant.point.pk), "taken_at": NOW.isoformat()}
    return "/readings", {"survey_id": str(plant.survey.pk), **item}


def batch(plant: Plant):
    """Send a batch."""
    _, body = reading(plant)
    survey_id = body.pop("survey_id")
    return "/reading-batches", {"survey_id": survey_id, "items": [body]}


def end(plant: Plant):
    """End a survey."""
    return f"/surveys/{plant.survey.pk}/end", {}


def deferral(plant: Plant):
    """Ask for a deferral, with a term that is refused after the right was checked."""
    finding = plant.leak(10)
    return "/deferrals", {
        "finding_id": str(finding.pk),
        "reason": "parts",
        "text": "the seal kit is late",
        "until_at": NOW.isoformat(),
    }


TABLE = [
    (survey, EVERYBODY),
    (reading, EVERYBODY),
    (batch, EVERYBODY),
    (end, EVERYBODY),
    (deferral, EVERYBODY - {"integrator"}),
]


@pytest.mark.parametrize(("act", "who"), TABLE)
@pytest.mark.parametrize("role", ROLES)
class TestARole:
    def test_is_let_in_or_told_that_the_right_is_missing(self, act, who, role):
        plant = Plant()
        path, body = act(plant)

        status = api_as(role, plant.site).post(path, body).status_code

        assert (status != 403) == (role in who)
        assert status < 500


@pytest.mark.parametrize(("act", "who"), TABLE)
class TestAStranger:
    def test_finds_nothing(self, act, who):
        path, body = act(Plant())

        assert api_as("manager", Plant().site).post(path, body).status_code in {400, 404}

    def test_who_has_not_signed_in_is_asked_to(self, act, who):
        path, body = act(Plant())

        assert api_of_nobody().post(path, body).status_code == 401


@pytest.mark.parametrize("scopes", [["view"], ["record", "view"]])
class TestAKey:
    def test_does_no_more_than_its_scopes(self, scopes):
        plant = Plant()
        path, body = reading(plant)

        status = api_as("manager", plant.site, scopes).post(path, body).status_code

        assert status == (201 if "record" in scopes else 403)

    def test_of_a_lost_phone_closes_nothing(self, scopes):
        plant = Plant()
        finding = plant.leak(10)
        body = {"move": "close_by_reason", "closure_reason": "branch_isolated", "text": "cut off and blinded"}

        answer = api_as("manager", plant.site, scopes).post(f"/findings/{finding.pk}/moves", body, version=1)

        assert answer.status_code == 403
