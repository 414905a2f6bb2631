"""The leak balance by program: on what was really heard, measured, repaired."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from findings.register import actions
from tests import makers
from tests.findings.chain import ACTOR, LATER, Plant
from tests.makers import NOW
from tests.people import api_as

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


def balance(plant, **query):
    api = api_as("inspector", plant.site)
    return api.get(f"/supply-systems/{plant.system.pk}/leak-balance", query)


def codes(reasons):
    return [reason["code"] for reason in reasons]


def error(answer):
    found = answer.json()["errors"][0]
    return found["pointer"], found["code"]


class TestTheBalance:
    def test_sets_the_last_test_against_what_was_found(self):
        plant = Plant()
        plant.leak(18.0)
        makers.make_leak_test(plant.system, flow_m3_per_s=0.030, taken_at=NOW - 9 * DAY)
        last = makers.make_leak_test(plant.system, flow_m3_per_s=0.010, taken_at=NOW)

        told = balance(plant).json()

        # 18 m3/h are 0.005 m3/s of 0.010 measured.
        assert told["test"]["id"] == str(last.pk)
        assert told["explained"]["value_m3_per_s"] == pytest.approx(0.005)
        assert told["unexplained"]["value_m3_per_s"] == pytest.approx(0.005)
        assert told["unexplained_share"]["value"] == pytest.approx(0.5)
        assert (told["verdict"], told["is_significant"]) == ("unexplained", True)
        # 0.005 m3/s x 3600 x 0.1 kWh/m3 x 0.20 per kWh.
        assert told["cost_of_unexplained"]["full_load"]["per_hour"] == "0.3600"
        assert codes(told["cost_of_unexplained"]["expected"]["reasons"]) == ["no_machine"]

    def test_names_the_findings_largest_first(self):
        plant = Plant()
        small, large = plant.leak(3.0), plant.leak(18.0, plant.another_point())

        told = balance(plant).json()

        assert [one["number"] for one in told["findings"]] == [large.number, small.number]
        assert told["finding_count"] == 2

    def test_without_a_test_says_what_to_do(self):
        plant = Plant()
        plant.leak(18.0)

        told = balance(plant).json()

        assert told["explained"]["value_m3_per_s"] == pytest.approx(0.005)
        assert (told["measured"]["value_m3_per_s"], told["test"]) == (None, None)
        assert "Measure one" in told["reasons"][0]["text"]

    def test_leaves_void_tests_out(self):
        plant = Plant()
        makers.make_leak_test(plant.system, void_at=NOW, void_reason="a line was running")

        assert balance(plant).json()["test"] is None

    def test_leaves_repaired_and_dismissed_findings_out(self):
        plant = Plant()
        plant.leak(18.0)
        repaired, dismissed = (plant.leak(9.0, plant.another_point()) for _ in range(2))
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=repaired.pk, repaired_at=NOW + DAY)
        actions.dismiss(
            actor=ACTOR,
            at=LATER,
            finding_id=dismissed.pk,
            dismiss_reason="no_fault_found",
            text="nothing heard",
        )

        assert balance(plant).json()["explained"]["value_m3_per_s"] == pytest.approx(0.005)

    def test_looks_back_at_a_moment(self):
        plant = Plant()
        repaired = plant.leak(18.0)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=repaired.pk, repaired_at=NOW + DAY)
        makers.make_leak_test(plant.system, taken_at=NOW + 2 * DAY)

        then = balance(plant, at=(NOW + timedelta(hours=2)).isoformat()).json()
        after = balance(plant).json()

        assert then["explained"]["value_m3_per_s"] == pytest.approx(0.005)
        assert then["test"] is None
        assert after["explained"]["value_m3_per_s"] == 0.0

    def test_says_what_was_repaired_since_the_test(self):
        plant = Plant()
        finding = plant.leak(18.0)
        makers.make_leak_test(plant.system, taken_at=NOW + timedelta(hours=1))
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)

        assert "repaired_since_test" in codes(balance(plant).json()["reasons"])

    def test_counts_findings_without_a_rate(self):
        plant = Plant()
        plant.take(level_db=40.0)

        assert balance(plant).json()["without_flow"] == 1

    def test_is_in_the_units_of_the_caller(self):
        plant = Plant()
        plant.leak(18.0)

        told = balance(plant, units="us").json()

        # 1 cfm is 4.719474e-4 m3/s (NIST SP 811, appendix B).
        assert told["explained"]["value_cfm"] == pytest.approx(0.005 / 4.719474e-4, rel=1e-4)

    def test_asks_no_more_for_many_findings_than_for_few(self):
        counts = []
        for number in (2, 20):
            plant = Plant()
            for _ in range(number):
                plant.leak(1.0, plant.another_point())
            makers.make_leak_test(plant.system)
            api = api_as("inspector", plant.site)
            with CaptureQueriesContext(connection) as queries:
                api.get(f"/supply-systems/{plant.system.pk}/leak-balance")
            counts.append(len(queries))

        assert counts[0] == counts[1]

    def test_of_the_future_is_refused(self):
        assert error(balance(Plant(), at="2199-01-01T00:00:00Z")) == ("?at", "in_the_future")


class TestTwoSurveys:
    def two_walks(self, plant, *, apart=2 * DAY):
        """Return two surveys that heard 4 and 4 leaks, 2 of them twice."""
        first, second = plant.survey, makers.make_survey(plant.site, started_at=NOW + apart)
        points = [plant.another_point() for _ in range(6)]
        for survey, heard, at in ((first, points[:4], NOW), (second, points[2:], NOW + apart)):
            plant.survey = survey
            for point in heard:
                plant.leak(3.0, point, taken_at=at)
        return first, second

    def ask(self, plant, first, second):
        return balance(plant, first_survey_id=str(first.pk), second_survey_id=str(second.pk))

    def test_tell_what_both_probably_missed(self):
        plant = Plant()

        told = self.ask(plant, *self.two_walks(plant)).json()["missed"]

        # Chapman: (4 + 1)(4 + 1)/(2 + 1) - 1 = 7.33 leaks, of which 6 were heard.
        assert [told[f"heard_by_{one}"] for one in ("first", "second", "both")] == [4, 4, 2]
        assert told["there"]["value"] == pytest.approx(22 / 3)
        assert told["missed"]["value"] == pytest.approx(4 / 3)
        assert "assumes_independent_passes" in codes(told["there"]["reasons"])

    def test_leave_out_what_was_repaired_between(self):
        plant = Plant()
        first, second = plant.survey, makers.make_survey(plant.site, started_at=NOW + 2 * DAY)
        stays, gone = plant.another_point(), plant.leak(3.0)
        plant.leak(3.0, stays)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=gone.pk, repaired_at=NOW + DAY)
        plant.survey = second
        plant.leak(3.0, stays, taken_at=NOW + 2 * DAY)

        told = self.ask(plant, first, second).json()["missed"]

        assert [told[f"heard_by_{one}"] for one in ("first", "second", "both")] == [1, 1, 1]
        assert "repaired_between" in codes(told["reasons"])

    def test_too_far_apart_are_refused(self):
        plant = Plant()
        first, second = self.two_walks(plant, apart=30 * DAY)

        told = self.ask(plant, first, second).json()["missed"]

        assert told["missed"]["value"] is None
        assert codes(told["missed"]["reasons"]) == ["surveys_too_far_apart"]

    def test_with_no_area_in_common_are_refused(self):
        plant = Plant()
        plant.leak(3.0)
        elsewhere = makers.make_survey(plant.site, started_at=NOW + DAY)

        told = self.ask(plant, plant.survey, elsewhere).json()["missed"]

        assert codes(told["missed"]["reasons"]) == ["no_common_area"]

    def test_are_two(self):
        plant = Plant()

        assert error(balance(plant, first_survey_id=str(plant.survey.pk))) == (
            "?second_survey_id",
            "required",
        )
        assert error(self.ask(plant, plant.survey, plant.survey)) == ("?second_survey_id", "same_survey")

    def test_belong_to_the_systems_site(self):
        plant, other = Plant(), Plant()

        assert error(self.ask(plant, plant.survey, other.survey)) == (
            "?second_survey_id",
            "unknown_reference",
        )
