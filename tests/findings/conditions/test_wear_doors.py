"""The doors of bearings, good states, ladders, greasings, conditions and the wear history."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from findings.conditions.models import BearingParticulars, Greasing, WearLadder
from findings.logbook.models import Entry
from findings.physics.wear_ladder import DEFAULT_LADDER
from tests.findings.conditions.bearings import BEGAN, NOW, Bearing
from tests.people import api_as

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)
SHEET = {
    "bearing_type": "ball",
    "bore_m": 0.05,
    "outer_diameter_m": 0.11,
    "width_m": 0.027,
    "shaft_speed_hz": 25.0,
    "source": "data sheet",
    "from_at": BEGAN.isoformat(),
}


@pytest.fixture
def bearing():
    return Bearing()


@pytest.fixture
def api(bearing):
    return api_as("manager", bearing.site)


def path(bearing: Bearing, tail: str) -> str:
    return f"/measuring-points/{bearing.point.pk}/{tail}"


def codes(answer) -> set[str]:
    return {error["code"] for error in answer.json()["errors"]}


class TestParticulars:
    def test_are_kept_and_told_in_the_logbook(self, api, bearing):
        answer = api.post(path(bearing, "bearing-particulars"), SHEET)

        made = answer.json()
        assert (answer.status_code, made["bore_m"], made["elements"]) == (201, 0.05, None)
        assert api.get(f"/bearing-particulars/{made['id']}").json() == made
        assert Entry.objects.get().act == "bearing_particulars.said"

    def test_name_every_problem_by_its_member(self, api, bearing):
        answer = api.post(path(bearing, "bearing-particulars"), {**SHEET, "bore_m": 50, "width_m": 27})

        pointers = {error["pointer"] for error in answer.json()["errors"]}
        assert (answer.status_code, pointers >= {"/bore_m", "/width_m"}) == (400, True)

    def test_that_were_wrong_are_voided_once(self, api, bearing):
        made = api.post(path(bearing, "bearing-particulars"), SHEET).json()
        void = f"/bearing-particulars/{made['id']}/void"

        first, second = (api.post(void, {"reason": "another shaft"}) for _ in range(2))

        assert (first.status_code, first.json()["void_reason"]) == (200, "another shaft")
        assert (second.status_code, second.json()["code"]) == (409, "particulars_void")

    def test_are_never_rewritten(self, api, bearing):
        api.post(path(bearing, "bearing-particulars"), SHEET)

        with pytest.raises(IntegrityError), transaction.atomic():
            BearingParticulars.objects.update(bore_m=0.06)

    def test_of_one_moment_are_said_once(self, api, bearing):
        answers = [api.post(path(bearing, "bearing-particulars"), SHEET) for _ in range(2)]

        assert [answer.status_code for answer in answers] == [201, 409]

    def test_let_the_one_rated_speed_stand_in(self, api, bearing):
        api.post(path(bearing, "bearing-particulars"), {**SHEET, "speed_varies": False})
        bearing.confirm()
        days = [timedelta(days=day) for day in range(7)]

        taken = bearing.take(*(bearing.item(23.0, at=BEGAN + day, shaft_speed_hz=None) for day in days))

        assert taken[-1].condition.state == "no_step_reached"


class TestAGoodState:
    def test_names_who_confirmed_it(self, api, bearing):
        body = {"cause": "new_bearing", "from_at": BEGAN.isoformat(), "reason": "New bearing fitted today."}

        answer = api.post(path(bearing, "good-states"), body)

        assert (answer.status_code, answer.json()["cause"]) == (201, "new_bearing")
        assert answer.json()["confirmed_by"]

    @pytest.mark.parametrize(
        ("changed", "code"),
        [
            ({"reason": "ok"}, "too_short"),
            ({"cause": "fresh_grease"}, "invalid_choice"),
            ({"from_at": "2027-06-01T00:00:00Z"}, "in_the_future"),
            ({"until_at": (BEGAN - MINUTE).isoformat()}, "before_from"),
        ],
    )
    def test_that_says_nothing_or_cannot_be_is_refused(self, api, bearing, changed, code):
        body = {"cause": "new_point", "from_at": BEGAN.isoformat(), "reason": "Fitted and run in today."}

        assert code in codes(api.post(path(bearing, "good-states"), {**body, **changed}))

    def test_is_not_for_the_technician_to_confirm(self, bearing):
        body = {"cause": "new_bearing", "from_at": BEGAN.isoformat(), "reason": "New bearing fitted today."}

        assert api_as("technician", bearing.site).post(path(bearing, "good-states"), body).status_code == 403


class TestALadder:
    def body(self, bearing, **changed):
        steps = [{**step._asdict(), "source": "our own trials"} for step in DEFAULT_LADDER]
        given = {"steps": steps, "source": "reliability meeting", "from_at": BEGAN.isoformat()}
        return {"site_id": str(bearing.site.pk), **given, **changed}

    def test_is_the_usual_one_until_the_site_has_its_own(self, api, bearing):
        before = api.get(f"/sites/{bearing.site.pk}/wear-ladder").json()
        body = self.body(bearing)
        body["steps"][0]["rise_db"] = 6.0
        api.post("/wear-ladders", body)

        after = api.get(f"/sites/{bearing.site.pk}/wear-ladder").json()

        assert (before["is_usual"], [step["rise_db"] for step in before["steps"]]) == (True, [8, 12, 16, 35])
        assert all(step["source"] for step in before["steps"])
        assert (after["is_usual"], after["steps"][0]["rise_db"]) == (False, 6.0)

    def test_judges_what_is_read_from_then_on(self, api, bearing):
        bearing.good()
        body = self.body(bearing)
        body["steps"] = [{**body["steps"][-1], "key": "halt", "rise_db": 10.0}]
        api.post("/wear-ladders", body)

        condition = bearing.listen(34.0).condition

        assert (condition.figures["step_key"], condition.severity) == ("halt", 5)

    def test_whose_top_step_waits_for_a_second_reading_is_refused(self, api, bearing):
        body = self.body(bearing)
        body["steps"][-1]["one_reading"] = False

        answer = api.post("/wear-ladders", body)

        assert (answer.status_code, codes(answer)) == (400, {"ladder_confirmation"})

    def test_whose_top_step_waits_is_kept_out_by_the_database_too(self, bearing):
        steps = [{**DEFAULT_LADDER[-1]._asdict(), "one_reading": False}]
        given = {"site": bearing.site, "from_at": NOW, "recorded_at": NOW, "source": "test"}

        with pytest.raises(IntegrityError), transaction.atomic():
            WearLadder.objects.create(steps=steps, **given)


class TestAGreasing:
    def greased(self, bearing, *levels: float) -> dict[str, str]:
        marks = ("before", "during", "after") if len(levels) == 3 else ("before", "after")
        return {
            f"{mark}_id": str(bearing.listen(level, at=NOW + index * MINUTE, greasing=mark).reading.pk)
            for index, (mark, level) in enumerate(zip(marks, levels, strict=True))
        }

    def test_tells_how_the_level_answered(self, api, bearing):
        bearing.good()
        api.post(path(bearing, "bearing-particulars"), SHEET)
        body = {**self.greased(bearing, 33.0, 27.5, 24.0), "grease_kg": 0.01, "during_grease_kg": 0.005}

        made = api.post(path(bearing, "greasings"), body).json()

        assert (made["outcome"], made["advice"]) == ("back_at_baseline", "done")
        assert made["change_db"] == pytest.approx(-9.0)
        assert made["change_low_db"] < made["change_db"] < made["change_high_db"]
        assert made["charge_kg"] == pytest.approx(0.01485)
        assert "contact_probe" in {caution["key"] for caution in made["cautions"]}

    def test_that_did_not_help_asks_for_a_look(self, api, bearing):
        bearing.good()
        body = {**self.greased(bearing, 40.0, 41.0, 40.0), "grease_kg": 0.01, "rose_during": True}

        assert api.post(path(bearing, "greasings"), body).json()["advice"] == "inspect"

    def test_takes_only_readings_that_carry_its_marks(self, api, bearing):
        body = {**self.greased(bearing, 33.0, 24.0), "grease_kg": 0.01}
        body["before_id"] = str(bearing.listen(33.0, at=NOW - MINUTE).reading.pk)

        assert "not_marked" in codes(api.post(path(bearing, "greasings"), body))

    def test_takes_no_reading_of_another_point(self, api, bearing):
        elsewhere = self.greased(Bearing(bearing.site), 33.0, 24.0)

        assert codes(api.post(path(bearing, "greasings"), {**elsewhere, "grease_kg": 0.01})) == {
            "unknown_reference"
        }

    def test_begins_a_new_trend_but_no_new_baseline(self, api, bearing):
        bearing.good()
        body = {**self.greased(bearing, 25.0, 24.0), "grease_kg": 0.01}
        api.post(path(bearing, "greasings"), body)

        condition = bearing.listen(24.2, at=NOW + timedelta(days=10)).condition

        assert condition.inputs["trend_since"] == Greasing.objects.get().at.isoformat()
        assert condition.figures["baseline"]["count"] == 6

    def test_is_advised_on_where_the_particulars_suffice(self, api, bearing):
        before = api.get(path(bearing, "grease-advice")).json()
        api.post(path(bearing, "bearing-particulars"), SHEET)

        after = api.get(path(bearing, "grease-advice")).json()

        assert (before["charge_kg"]["value"], before["interval_s"]["value"]) == (None, None)
        assert {reason["code"] for reason in before["charge_kg"]["reasons"]} == {
            "outer_diameter_m_unknown",
            "width_m_unknown",
        }
        assert after["charge_kg"]["value"] == pytest.approx(0.01485)
        assert after["interval_s"]["low"] < after["interval_s"]["value"] < after["interval_s"]["high"]


class TestWhatIsShown:
    def test_of_a_reading_that_its_level_contradicts(self, api, bearing):
        bearing.good()
        body = {
            "survey_id": str(bearing.survey.pk),
            "client_id": "rung",
            "point_id": str(bearing.point.pk),
            "taken_at": NOW.isoformat(),
            "level_db": 33.0,
            "attachment": "contact_probe",
            "probe": "rod 100 mm",
            "shaft_speed_hz": 24.5,
        }

        taken = api.post("/readings", body).json()

        assert (taken["outcome"], taken["condition"]["order_due"]) == ("found", False)
        assert "first_alarm" in {reason["code"] for reason in taken["condition"]["reasons"]}
        assert "rotation" in {caution["key"] for caution in taken["cautions"]}

    def test_of_a_finding_why_no_order_is_due(self, api, bearing):
        finding = bearing.good().listen(33.0).finding

        shown = api.get(f"/findings/{finding.pk}").json()

        assert shown["condition"]["order_due"] is False
        assert "first_alarm" in {reason["code"] for reason in shown["condition"]["reasons"]}

    def test_of_a_finding_and_a_point_are_all_conditions(self, api, bearing):
        finding = bearing.good().listen(33.0).finding

        of_finding = api.get(f"/findings/{finding.pk}/conditions").json()["results"]
        of_point = api.get(path(bearing, "conditions")).json()["results"]

        assert len(of_finding) == len(of_point) == 7
        assert of_point[0]["figures"]["step_key"] == "lubricate"

    def test_of_a_point_is_its_history_with_baseline_and_limits(self, api, bearing):
        bearing.good().listen(33.0)

        history = api.get(path(bearing, "wear-history")).json()

        assert [line["in_baseline"] for line in history["readings"]] == [True] * 6 + [False]
        assert history["readings"][-1]["rise_db"] == pytest.approx(9.6)
        assert history["judged"]["baseline"]["limit_db"] == pytest.approx(27.1, abs=0.1)
        assert history["ladder"][0]["key"] == "lubricate"
        assert history["frequencies"] is None

    def test_of_a_point_without_readings_is_empty(self, api, bearing):
        history = api.get(path(bearing, "wear-history")).json()

        assert (history["readings"], history["judged"]) == ([], None)

    def test_after_judging_again_is_the_new_word(self, api, bearing):
        bearing.good().listen(33.0)

        answer = api.post(path(bearing, "wear-judgement"), {})

        assert (answer.status_code, answer.json()["severity"]) == (200, 2)

    def test_judging_a_point_without_readings_is_refused(self, api, bearing):
        assert api.post(path(bearing, "wear-judgement"), {}).json()["code"] == "no_probe_reading"
