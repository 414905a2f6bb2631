"""The doors of surveys and readings."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from findings.readings.models import Reading
from findings.register.models import Finding
from tests.findings.chain import Plant
from tests.makers import NOW, make_instrument
from tests.people import api_as

NOBODY = "0195b7e4-0000-7000-8000-000000000000"
"""An id that names nothing."""

pytestmark = pytest.mark.django_db


def item(plant: Plant, **values):
    """Return a reading's body."""
    return {
        "client_id": str(uuid.uuid4()),
        "point_id": str(plant.point.pk),
        "taken_at": NOW.isoformat(),
        "kind": "pressure_leak",
        "medium": "compressed_air",
        **values,
    }


def body(plant: Plant, **values):
    """Return a reading's body with its survey."""
    return {"survey_id": str(plant.survey.pk), **item(plant, **values)}


class TestASurvey:
    def test_is_begun_and_ended(self):
        plant = Plant()
        api = api_as("inspector", plant.site)
        begun = api.post("/surveys", {"site_id": str(plant.site.pk), "code": "W10"})

        ended = api.post(f"/surveys/{begun.json()['id']}/end")

        assert (begun.status_code, ended.status_code) == (201, 200)
        assert ended.json()["ended_at"] is not None

    def test_ends_once(self):
        plant = Plant()
        api = api_as("inspector", plant.site)
        api.post(f"/surveys/{plant.survey.pk}/end")

        assert api.post(f"/surveys/{plant.survey.pk}/end").json()["code"] == "survey_ended"

    def test_does_not_end_before_it_began(self):
        plant = Plant()

        answer = api_as("inspector", plant.site).post(
            f"/surveys/{plant.survey.pk}/end", {"ended_at": (NOW - timedelta(hours=1)).isoformat()}
        )

        assert answer.json()["errors"][0]["code"] == "before_start"

    def test_code_is_taken_once(self):
        plant = Plant()
        api = api_as("inspector", plant.site)
        api.post("/surveys", {"site_id": str(plant.site.pk), "code": "W10"})

        answer = api.post("/surveys", {"site_id": str(plant.site.pk), "code": "W10"})

        assert (answer.status_code, answer.json()["code"]) == (409, "survey_code_taken")


class TestAReadingSent:
    def test_is_kept_and_opens_a_finding(self):
        plant = Plant()

        answer = api_as("inspector", plant.site).post("/readings", body(plant, hole_diameter_m=0.002), key="")

        assert (answer.status_code, answer.json()["outcome"]) == (201, "found")
        assert answer.headers["Location"].endswith(answer.json()["reading"]["id"])

    def test_twice_is_the_same_reading(self):
        plant = Plant()
        api, sent = api_as("technician", plant.site), body(plant)

        first, second = api.post("/readings", sent, key=""), api.post("/readings", sent, key="")

        assert (first.status_code, second.status_code) == (201, 200)
        assert first.json()["reading"] == second.json()["reading"]

    def test_with_a_known_client_id_and_other_content_is_a_conflict(self):
        plant = Plant()
        api, sent = api_as("technician", plant.site), body(plant)
        api.post("/readings", sent, key="")

        answer = api.post("/readings", {**sent, "level_db": 12.0}, key="")

        assert (answer.status_code, answer.json()["code"]) == (409, "reading_client_id_reused")

    @pytest.mark.parametrize(
        ("member", "value"),
        [
            ("level_db", "NaN"),
            ("level_db", 1e30),
            ("hole_diameter_m", -0.001),
            ("pressure_gauge_pa", 1e14),
            ("flow_m3_per_s", 1.0),
            ("severity", 9),
            ("client_id", "a\x00b"),
            ("note", "a\x00b"),
            ("taken_at", "0000-01-01T00:00:00Z"),
            ("taken_at", "2999-01-01T00:00:00Z"),
            ("taken_at", "2026-03-02T08:00:00"),
            ("kind", "hiss"),
            ("medium", "vacuum"),
            ("edge", "round"),
            ("attachment", "trumpet"),
            ("leak_family", "crack"),
            ("air_temperature_k", 20.0),
            ("relative_humidity", 55.0),
            ("band_centre_hz", 40.0),
            ("point_id", NOBODY),
            ("instrument_id", NOBODY),
            ("corrects_id", NOBODY),
            ("survey_id", NOBODY),
            ("unheard_of", 1),
        ],
    )
    def test_with_nonsense_is_refused_with_a_pointer(self, member, value):
        plant = Plant()

        answer = api_as("inspector", plant.site).post("/readings", body(plant, **{member: value}), key="")

        assert answer.status_code == 400
        assert not Reading.objects.exists()

    def test_keeps_what_the_sound_came_through(self):
        plant = Plant()
        said = {
            "attachment": "open_horn",
            "leak_family": "thread",
            "air_temperature_k": 296.15,
            "relative_humidity": 0.45,
            "band_centre_hz": 40_000.0,
        }

        answer = api_as("inspector", plant.site).post("/readings", body(plant, **said), key="")

        assert {name: answer.json()["reading"][name] for name in said} == said

    def test_at_a_point_of_another_site_names_nothing(self):
        plant, foreign = Plant(), Plant()

        answer = api_as("inspector", plant.site).post(
            "/readings", body(plant, point_id=str(foreign.point.pk)), key=""
        )

        assert answer.json()["errors"][0]["pointer"] == "/point_id"

    def test_into_a_survey_of_another_site_names_nothing(self):
        plant, foreign = Plant(), Plant()

        answer = api_as("inspector", plant.site).post(
            "/readings", body(plant, survey_id=str(foreign.survey.pk)), key=""
        )

        assert answer.json()["errors"][0]["pointer"] == "/survey_id"

    def test_with_an_overdue_instrument_is_kept_and_marked(self):
        plant = Plant()
        detector = make_instrument(plant.site, calibration_due_on="2026-01-01")

        answer = api_as("inspector", plant.site).post(
            "/readings", body(plant, instrument_id=str(detector.pk)), key=""
        )

        assert [w["code"] for w in answer.json()["reading"]["warnings"]] == ["calibration_overdue"]

    def test_is_shown_in_the_units_asked_for(self):
        plant = Plant()
        api = api_as("inspector", plant.site)
        reading = api.post("/readings", body(plant, pressure_gauge_pa=700_000.0), key="").json()["reading"]

        shown = api.get(f"/readings/{reading['id']}", units="metric").json()

        assert shown["pressure_bar_g"] == pytest.approx(7.0)


class TestABatchOfReadings:
    def test_answers_each_item(self):
        plant = Plant()
        sent = {
            "survey_id": str(plant.survey.pk),
            "items": [item(plant), item(plant, level_db="loud"), item(plant, medium="vacuum"), item(plant)],
        }

        answer = api_as("inspector", plant.site).post("/reading-batches", sent, key="")

        results = answer.json()["results"]
        assert [result["status"] for result in results] == [201, 400, 400, 201]
        assert [result["outcome"] for result in results] == ["found", None, None, "heard_again"]

    def test_of_all_or_nothing_keeps_nothing(self):
        plant = Plant()
        sent = {
            "survey_id": str(plant.survey.pk),
            "all_or_nothing": True,
            "items": [item(plant), item(plant, medium="vacuum")],
        }

        answer = api_as("inspector", plant.site).post("/reading-batches", sent, key="")

        assert (answer.status_code, answer.json()["code"]) == (422, "batch_refused")
        assert answer.json()["errors"][0]["pointer"] == "/items/1/medium"
        assert not Reading.objects.exists()

    def test_sent_again_answers_that_all_is_known(self):
        plant = Plant()
        api = api_as("inspector", plant.site)
        sent = {"survey_id": str(plant.survey.pk), "items": [item(plant), item(plant)]}
        api.post("/reading-batches", sent, key="")

        results = api.post("/reading-batches", sent, key="").json()["results"]

        assert [result["outcome"] for result in results] == ["known", "known"]
        assert Finding.objects.count() == 1

    @pytest.mark.parametrize("items", [[], None, "all", [1] * 501])
    def test_of_no_or_too_many_items_is_refused(self, items):
        plant = Plant()
        sent = {"survey_id": str(plant.survey.pk), "items": items}

        assert api_as("inspector", plant.site).post("/reading-batches", sent, key="").status_code == 400

    def test_of_a_survey_elsewhere_names_nothing(self):
        plant, foreign = Plant(), Plant()
        sent = {"survey_id": str(foreign.survey.pk), "items": [item(plant)]}

        answer = api_as("inspector", plant.site).post("/reading-batches", sent, key="")

        assert answer.json()["errors"][0]["pointer"] == "/survey_id"
