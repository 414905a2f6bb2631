"""The doors that compute an assessment once more from its kept evidence."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from findings.physics.leak_flow import VERSION
from findings.register.models import Assessment, Finding
from tests.findings.chain import LATER, Plant
from tests.makers import NOW
from tests.people import api_as

pytestmark = pytest.mark.django_db

HOLE = {"hole_diameter_m": 0.002, "edge": "sharp"}


def kept_without_evidence(finding: Finding, **values: object) -> Assessment:
    """Add an assessment as they were kept before the whole evidence was."""
    given = {
        "method": "orifice",
        "method_version": "1",
        "status": "estimated",
        "leak_rate_m3_per_s": 0.002,
        "u_m3_per_s": 0.0002,
        "low_m3_per_s": 0.0016,
        "high_m3_per_s": 0.0024,
        "inputs": {"gas": "air", "diameter_m": 0.002},
    }
    return Assessment.objects.create(
        site=finding.site, finding=finding, at=NOW, recorded_at=LATER, **{**given, **values}
    )


def asked(plant: Plant, assessment: Assessment) -> dict:
    path = f"/findings/{assessment.finding_id}/assessments/{assessment.pk}/recomputation"
    answer = api_as("inspector", plant.site).get(path)
    assert answer.status_code == 200, answer.content
    return answer.json()


class TestOneAssessment:
    @pytest.mark.parametrize(
        "said",
        [
            HOLE,
            {"m3_per_h": 6.0},
            {"level_db": 40.0},
            {"kind": "vacuum_leak", "medium": "vacuum", **HOLE, "pressure_gauge_pa": -60_000.0},
            {"kind": "enclosure_leak", "medium": ""},
            {"medium": "steam", **HOLE, "pressure_gauge_pa": 400_000.0},
            {"medium": "natural_gas", **HOLE, "pressure_gauge_pa": 30_000.0},
        ],
        ids=["hole", "meter", "level", "vacuum", "enclosure", "steam", "gas"],
    )
    def test_gives_the_same_today(self, said):
        plant = Plant()
        assessment = Assessment.objects.get(finding=plant.take(**said).finding)

        told = asked(plant, assessment)

        assert (told["outcome"], told["today"]["method"]) == ("same", told["kept"]["method"])
        for name in ("leak_rate_m3_per_s", "low_m3_per_s", "high_m3_per_s"):
            assert told["today"][name] == told["kept"][name]

    def test_says_by_how_much_another_version_differs(self):
        plant = Plant()
        finding = plant.take(**HOLE).finding
        real = Assessment.objects.get(finding=finding)
        older = kept_without_evidence(
            finding,
            inputs=real.inputs,
            method_version="0",
            leak_rate_m3_per_s=real.leak_rate_m3_per_s / 1.1,
        )

        told = asked(plant, older)

        assert (told["outcome"], told["change_percent"]) == ("changed", pytest.approx(10.0))
        assert [reason["text"] for reason in told["differences"]] == [
            f"Method orifice: version 0 → {VERSION}.",
            "Changed by +10 %.",
        ]

    def test_made_before_the_evidence_was_kept_cannot_be_computed_and_says_why(self):
        plant = Plant()
        assessment = kept_without_evidence(plant.take(**HOLE).finding)

        told = asked(plant, assessment)

        assert (told["outcome"], told["today"]["status"]) == ("not_computable", "refused")
        assert "before the whole evidence was kept" in told["differences"][0]["text"]

    def test_writes_nothing(self):
        plant = Plant()
        assessment = Assessment.objects.get(finding=plant.take(**HOLE).finding)

        asked(plant, assessment)

        assert Assessment.objects.count() == 1

    def test_of_another_finding_is_not_found(self):
        plant = Plant()
        mine = plant.take(**HOLE).finding
        other = Assessment.objects.get(finding=plant.take(plant.another_point(), **HOLE).finding)

        path = f"/findings/{mine.pk}/assessments/{other.pk}/recomputation"
        assert api_as("inspector", plant.site).get(path).status_code == 404

    def test_of_another_site_is_not_found(self):
        theirs = Plant()
        assessment = Assessment.objects.get(finding=theirs.take(**HOLE).finding)

        path = f"/findings/{assessment.finding_id}/assessments/{assessment.pk}/recomputation"
        assert api_as("inspector", Plant().site).get(path).status_code == 404


class TestTheList:
    def _listed(self, plant: Plant, **query: object) -> list[dict]:
        answer = api_as("planner", plant.site).get("/assessments/recomputations", **query)
        assert answer.status_code == 200, answer.content
        return answer.json()["results"]

    def test_shows_what_each_open_finding_rests_on(self):
        plant = Plant()
        finding = plant.leak(6.0)
        plant.take(**HOLE, taken_at=NOW + timedelta(days=1))

        (row,) = self._listed(plant, site_id=str(plant.site.pk))

        assert (row["finding_id"], row["stands"]) == (str(finding.pk), True)
        assert row["kept"]["method"] == "meter"

    def test_shows_the_last_refusal_where_nothing_stands(self):
        plant = Plant()
        plant.take(level_db=40.0)

        (row,) = self._listed(plant)

        assert (row["stands"], row["outcome"]) == (False, "same")

    def test_is_paged(self):
        plant = Plant()
        for _ in range(3):
            plant.leak(6.0, plant.another_point())

        answer = api_as("planner", plant.site).get("/assessments/recomputations", limit=2).json()

        assert (len(answer["results"]), bool(answer["next"])) == (2, True)

    def test_shows_nothing_of_another_site(self):
        Plant().leak(6.0)

        assert self._listed(Plant()) == []

    def test_narrows_to_a_finding(self):
        plant = Plant()
        plant.leak(6.0)

        assert self._listed(plant, finding_id=str(uuid.uuid4())) == []


class TestAFindingsAssessments:
    def test_are_listed_whole(self):
        plant = Plant()
        finding = plant.take(**HOLE).finding

        (row,) = api_as("inspector", plant.site).get(f"/findings/{finding.pk}/assessments").json()["results"]

        assert (row["method"], row["method_version"], row["status"]) == ("orifice", VERSION, "estimated")
        assert row["low_m3_per_s"] < row["leak_rate_m3_per_s"] < row["high_m3_per_s"]
        assert row["inputs"]["evidence"]["pressure_gauge_pa"] == 600_000.0
        assert row["reasons"]
