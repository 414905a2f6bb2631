"""The doors of an instrument's calibration leaks and of what they teach."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from findings.calibration.models import CalibrationLeak
from findings.logbook.models import Entry
from tests import makers
from tests.findings.calibration.nozzles import calibrate
from tests.makers import NOW
from tests.people import api_as

pytestmark = pytest.mark.django_db


@pytest.fixture
def tool():
    return makers.make_instrument(scale="absolute")


@pytest.fixture
def api(tool):
    return api_as("inspector", tool.site)


def leak(**values):
    """Return the body of a leak at a test nozzle."""
    return {
        "taken_at": NOW.isoformat(),
        "attachment": "open_horn",
        "gas": "air",
        "leak_family": "hole",
        "level_db": 66.0,
        "background_db": 30.0,
        "distance_m": 0.5,
        "pressure_gauge_pa": 607_950.0,
        "flow_m3_per_s": 3e-5,
        "flow_u_m3_per_s": 1e-6,
        "flow_method": "flow_meter",
        **values,
    }


class TestALeakAtANozzle:
    def test_is_kept_with_its_level_at_one_metre_and_its_pressure_ratio(self, api, tool):
        answer = api.post(f"/instruments/{tool.pk}/calibration-leaks", leak())

        made = answer.json()
        assert answer.status_code == 201
        assert made["normalised_level_db"] == pytest.approx(59.32, abs=0.01)
        assert made["pressure_ratio"] == pytest.approx(7.0)
        assert answer.headers["Location"].endswith(f"/calibration-leaks/{made['id']}")
        assert api.get(f"/calibration-leaks/{made['id']}").json() == made

    def test_is_told_in_the_logbook_once(self, api, tool):
        made = api.post(f"/instruments/{tool.pk}/calibration-leaks", leak()).json()

        entry = Entry.objects.get()
        assert (entry.act, str(entry.subject_id)) == ("calibration_leak.added", made["id"])

    @pytest.mark.parametrize(
        ("member", "value"),
        [
            ("attachment", "contact_probe"),
            ("level_db", "NaN"),
            ("background_db", 65.0),
            ("distance_m", 0.01),
            ("flow_u_m3_per_s", 2e-5),
            ("flow_method", "stated"),
            ("taken_at", "2190-01-01T00:00:00Z"),
            ("unheard_of", 1),
        ],
    )
    def test_that_teaches_nothing_is_refused_with_a_pointer(self, api, tool, member, value):
        answer = api.post(f"/instruments/{tool.pk}/calibration-leaks", leak(**{member: value}))

        assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (400, f"/{member}")
        assert not CalibrationLeak.objects.exists()

    def test_of_an_instrument_elsewhere_is_not_found(self, api):
        foreign = makers.make_instrument()

        for pk in (foreign.pk, uuid.uuid4()):
            assert api.post(f"/instruments/{pk}/calibration-leaks", leak()).status_code == 404

    def test_that_was_wrong_is_voided_once_and_stays_readable(self, api, tool):
        made = makers.make_calibration_leak(tool)

        first = api.post(f"/calibration-leaks/{made.pk}/void", {"reason": "another nozzle"})
        second = api.post(f"/calibration-leaks/{made.pk}/void", {"reason": "another nozzle"})

        assert (first.status_code, first.json()["void_reason"]) == (200, "another nozzle")
        assert (second.status_code, second.json()["code"]) == (409, "calibration_leak_void")
        assert api.get(f"/calibration-leaks/{made.pk}").json()["void_at"] is not None

    def test_is_listed_with_its_instrument_alone(self, api, tool):
        mine = makers.make_calibration_leak(tool)
        makers.make_calibration_leak(makers.make_instrument(tool.site))

        rows = api.get(f"/instruments/{tool.pk}/calibration-leaks").json()["results"]

        assert [row["id"] for row in rows] == [str(mine.pk)]

    def test_is_listed_by_its_setup_and_by_whether_it_stands(self, api, tool):
        makers.make_calibration_leak(tool)
        slot = makers.make_calibration_leak(tool, leak_family="slot")
        makers.make_calibration_leak(tool, leak_family="slot", void_at=NOW, void_reason="wrong")

        rows = api.get(f"/instruments/{tool.pk}/calibration-leaks", leak_family="slot", void="false").json()[
            "results"
        ]

        assert [row["id"] for row in rows] == [str(slot.pk)]


class TestWhatTheLeaksTeach:
    def fits(self, api, tool):
        """Return the fits that the door shows."""
        return api.get(f"/instruments/{tool.pk}/calibration-fits").json()["fits"]

    def test_is_a_fit_with_every_leaks_part_in_it(self, api, tool):
        leaks = calibrate(tool)

        (fit,) = self.fits(api, tool)

        assert (fit["trust"], fit["count"], len(fit["leaks"])) == ("calibrated", 16, 16)
        assert {row["id"] for row in fit["leaks"]} == {str(one.pk) for one in leaks}
        per_db = fit["coefficients"][1]
        assert per_db["low"] < 0.062 < per_db["high"]
        assert fit["level_range_db"] == {"low": 48.0, "high": 72.0}
        assert fit["next_leak"]["text"]

    def test_never_mixes_gases_attachments_or_openings(self, api, tool):
        for setup in ({}, {"gas": "nitrogen"}, {"attachment": "dish"}, {"leak_family": "slot"}):
            makers.make_calibration_leak(tool, **setup)

        assert [one["count"] for one in self.fits(api, tool)] == [1, 1, 1, 1]

    def test_leaves_void_leaks_out(self, api, tool):
        makers.make_calibration_leak(tool)
        makers.make_calibration_leak(tool, void_at=NOW, void_reason="wrong")

        assert [one["count"] for one in self.fits(api, tool)] == [1]

    def test_of_nothing_says_which_leak_to_begin_with(self, api, tool):
        (fit,) = self.fits(api, tool)

        assert fit["trust"] == "order of magnitude, not calibrated"
        assert fit["next_leak"]["text"]

    def test_of_too_few_on_a_relative_scale_says_what_is_missing_and_lists_them(self, api, tool):
        relative = makers.make_instrument(tool.site)
        makers.make_calibration_leak(relative)

        (fit,) = self.fits(api, relative)

        assert (fit["trust"], fit["coefficients"], fit["next_leak"]) == ("", [], None)
        assert fit["reasons"][0]["text"]
        assert fit["leaks"][0]["residual_decades"] is None

    def test_is_shown_in_the_units_asked_for(self, api, tool):
        calibrate(tool, 12)

        answer = api.get(f"/instruments/{tool.pk}/calibration-fits", units="metric").json()

        row = answer["fits"][0]["leaks"][0]
        assert row["flow_m3_per_h"] == pytest.approx(row["expected_m3_per_h"] * 10 ** row["residual_decades"])

    def test_leaves_out_what_is_dated_after_now(self, api, tool):
        makers.make_calibration_leak(tool, taken_at=NOW + timedelta(days=36_500))

        assert self.fits(api, tool)[0]["count"] == 0
