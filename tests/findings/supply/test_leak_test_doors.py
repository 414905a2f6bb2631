"""The whole leakage of a system, recorded by program: computed, kept, voided once."""

from datetime import timedelta

import pytest
from django.db import IntegrityError

from findings.logbook.models import Entry
from findings.supply.models import Compressor, LeakTest
from tests import makers, people

pytestmark = pytest.mark.django_db


@pytest.fixture
def system():
    return makers.make_system(storage_m3=6.0)


@pytest.fixture
def api(system):
    return people.api_as("inspector", system.site)


def metered(**values):
    given = {
        "method": "base_flow",
        "taken_at": "2026-03-01T03:00:00+01:00",
        "flow_m3_per_s": 0.02,
        "flow_u_m3_per_s": 0.001,
        "source": "meter behind the receivers",
    }
    return {**given, **values}


def error(answer):
    found = answer.json()["errors"]
    return (found[0]["pointer"], found[0]["code"]) if found else answer.json()["code"]


class TestRecording:
    def test_keeps_the_flow_and_what_was_sent(self, api, system):
        machine = makers.make_compressor(system, rated_flow_m3_per_s=0.1)
        sent = {
            "method": "load_unload",
            "taken_at": "2026-03-01T03:00:00+01:00",
            "compressor_id": str(machine.pk),
            "load_s": [30.0, 31.0, 29.0],
            "unload_s": [90.0, 90.0, 90.0],
            "source": "stopwatch",
        }

        made = api.post(f"/supply-systems/{system.pk}/leak-tests", sent)
        kept = api.get(made.headers["Location"]).json()

        # A quarter of 0.1 m3/s of inlet air at 101,325 Pa, told at 1 bar.
        assert kept["flow_m3_per_s"] == pytest.approx(0.025 * 1.01325)
        assert kept["as_sent"] == {"load_s": [30.0, 31.0, 29.0], "unload_s": [90.0, 90.0, 90.0]}
        assert kept["pressure_gauge_pa"] == system.pressure_gauge_pa
        assert kept["low_m3_per_s"] < kept["flow_m3_per_s"] < kept["high_m3_per_s"]
        assert Entry.objects.get().act == "leak_test.recorded"

    def test_takes_the_storage_for_the_volume_of_a_decay(self, api, system):
        sent = {
            "method": "pressure_decay",
            "taken_at": "2026-03-01T03:00:00+01:00",
            "start_pressure_gauge_pa": 600_000.0,
            "end_pressure_gauge_pa": 500_000.0,
            "duration_s": 300.0,
            "source": "gauge in the station",
        }

        made = api.post(f"/supply-systems/{system.pk}/leak-tests", sent).json()

        assert made["inputs"]["volume_m3"] == 6.0
        assert "volume_uncertainty_assumed" in [reason["code"] for reason in made["reasons"]]

    def test_refuses_what_gives_no_flow_and_says_why(self, api, system):
        sent = {
            "method": "pressure_decay",
            "taken_at": "2026-03-01T03:00:00+01:00",
            "start_pressure_gauge_pa": 500_000.0,
            "end_pressure_gauge_pa": 600_000.0,
            "duration_s": 300.0,
            "source": "gauge in the station",
        }

        answer = api.post(f"/supply-systems/{system.pk}/leak-tests", sent)

        assert (answer.status_code, answer.json()["code"]) == (422, "leak_test_refused")
        assert "must fall" in answer.json()["detail"]
        assert not LeakTest.objects.exists()

    def test_refuses_a_machine_of_another_system(self, api, system):
        machine = makers.make_compressor(makers.make_system(system.site))
        sent = metered(compressor_id=str(machine.pk))

        answer = api.post(f"/supply-systems/{system.pk}/leak-tests", sent)

        assert error(answer) == ("/compressor_id", "other_system")

    def test_refuses_a_test_of_tomorrow(self, api, system):
        answer = api.post(f"/supply-systems/{system.pk}/leak-tests", metered(taken_at="2199-01-01T00:00:00Z"))

        assert error(answer) == ("/taken_at", "in_the_future")

    def test_of_one_method_stands_once_per_moment(self, api, system):
        api.post(f"/supply-systems/{system.pk}/leak-tests", metered())

        answer = api.post(f"/supply-systems/{system.pk}/leak-tests", metered(flow_m3_per_s=0.03))

        assert (answer.status_code, answer.json()["code"]) == (409, "leak_test_dated")

    def test_of_a_hidden_system_is_not_found(self, api):
        other = makers.make_system()

        assert api.post(f"/supply-systems/{other.pk}/leak-tests", metered()).status_code == 404


class TestListing:
    def test_shows_the_newest_of_this_system_first(self, api, system):
        for days in (30, 10):
            makers.make_leak_test(system, taken_at=makers.NOW - timedelta(days=days))
        makers.make_leak_test(makers.make_system(system.site))

        rows = api.get(f"/supply-systems/{system.pk}/leak-tests").json()["results"]

        assert [row["taken_at"] for row in rows] == ["2026-02-20T08:00:00Z", "2026-01-31T08:00:00Z"]

    def test_leaves_void_ones_out_when_asked(self, api, system):
        makers.make_leak_test(system, void_at=makers.NOW, void_reason="a line was running")

        assert api.get(f"/supply-systems/{system.pk}/leak-tests", void="false").json()["results"] == []


class TestVoiding:
    def test_takes_a_reason_and_happens_once(self, api, system):
        test = makers.make_leak_test(system)

        first = api.post(f"/leak-tests/{test.pk}/void", {"reason": "a line was running"})
        second = api.post(f"/leak-tests/{test.pk}/void", {"reason": "again"})

        assert first.json()["void_reason"] == "a line was running"
        assert (second.status_code, second.json()["code"]) == (409, "leak_test_void")

    def test_makes_room_for_the_right_one(self, api, system):
        wrong = api.post(f"/supply-systems/{system.pk}/leak-tests", metered()).json()
        api.post(f"/leak-tests/{wrong['id']}/void", {"reason": "read in the wrong unit"})

        answer = api.post(f"/supply-systems/{system.pk}/leak-tests", metered(flow_m3_per_s=0.012))

        assert answer.status_code == 201


class TestTheDatabase:
    @pytest.mark.parametrize("values", [{"flow_m3_per_s": 5.0}, {"source": "somebody else"}])
    def test_never_rewrites_a_test(self, system, values):
        makers.make_leak_test(system)

        with pytest.raises(IntegrityError, match="only added"):
            LeakTest.objects.update(**values)

    @pytest.mark.parametrize(
        ("values", "law"),
        [
            ({"low_m3_per_s": 0.5}, "leak_test_flow_in_its_interval"),
            ({"source": ""}, "leak_test_names_its_source"),
            ({"pressure_gauge_pa": 0.0}, "leak_test_under_pressure"),
            ({"void_at": makers.NOW}, "leak_test_void_has_reason"),
        ],
    )
    def test_refuses_a_test_that_cannot_be(self, system, values, law):
        with pytest.raises(IntegrityError, match=law):
            makers.make_leak_test(system, **values)

    @pytest.mark.parametrize(
        ("values", "law"),
        [
            ({"unloaded_share": 1.5}, "compressor_unloaded_is_a_share"),
            ({"least_share": 0.2}, "compressor_least_of_a_regulating_one"),
            ({"load_order": 0}, "compressor_order_from_one"),
            ({"part_load_points": {"0": 1}}, "compressor_points_are_shares"),
            ({"part_load_points": [[0.1, 0.2, 0.3]]}, "compressor_points_are_shares"),
            ({"part_load_points": [[0.1, "much"]]}, "compressor_points_are_shares"),
            ({"part_load_points": [[0.1, 1.2]]}, "compressor_points_are_shares"),
        ],
    )
    def test_refuses_a_machine_that_cannot_be(self, system, values, law):
        with pytest.raises(IntegrityError, match=law):
            makers.make_compressor(system, **values)

    def test_takes_measured_points(self, system):
        points = [[0.0, 0.25], [1.0, 1.0]]
        makers.make_compressor(system, part_load_points=points)

        assert Compressor.objects.get().part_load_points == points

    def test_refuses_a_storage_below_zero(self):
        with pytest.raises(IntegrityError, match="supply_storage_plausible"):
            makers.make_system(storage_m3=-1.0)
