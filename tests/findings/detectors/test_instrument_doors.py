"""Instruments: which readings may be doubted, and since when."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from findings.detectors.rules import calibration_warning, is_overdue
from findings.logbook.models import Entry
from tests import makers, people

DUE = date(2026, 3, 1)


class TestCalibration:
    def test_holds_on_its_last_day(self):
        assert not is_overdue(DUE, DUE)
        assert is_overdue(DUE, DUE + timedelta(days=1))

    def test_without_a_date_is_not_overdue_but_doubtful(self):
        assert not is_overdue(None, DUE)
        assert "No calibration date" in calibration_warning(None, DUE)

    def test_warns_with_the_day_it_ran_out(self):
        assert "2026-03-01" in calibration_warning(DUE, DUE + timedelta(days=1))
        assert calibration_warning(DUE, DUE) == ""


@pytest.mark.django_db
class TestInstruments:
    @pytest.fixture
    def site(self):
        return makers.make_site()

    @pytest.fixture
    def api(self, site):
        return people.api_as("manager", site)

    def test_say_that_their_calibration_ran_out(self, api, site):
        old = makers.make_instrument(site, calibration_due_on=date(2020, 1, 1))

        answer = api.get(f"/instruments/{old.pk}").json()

        assert answer["calibration_overdue"] is True
        assert "2020-01-01" in answer["warning"]

    def test_are_good_again_after_a_calibration(self, api, site):
        old = makers.make_instrument(site, calibration_due_on=date(2020, 1, 1))
        due = (timezone.now() + timedelta(days=365)).date().isoformat()

        answer = api.post(
            f"/instruments/{old.pk}/calibrations", {"calibration_due_on": due, "certificate": "K-17"}
        ).json()

        assert (answer["calibration_overdue"], answer["warning"]) == (False, "")
        assert Entry.objects.get().detail["changed"]["calibration_due_on"] == ["2020-01-01", due]

    def test_refuse_a_calibration_that_ran_out_already(self, api, site):
        tool = makers.make_instrument(site)

        answer = api.post(
            f"/instruments/{tool.pk}/calibrations",
            {"calibration_due_on": "2020-01-01", "certificate": "K-17"},
        )

        assert answer.json()["errors"][0]["code"] == "in_past"

    def test_are_guarded_by_their_version_when_it_is_sent(self, api, site):
        tool = makers.make_instrument(site)
        body = {"calibration_due_on": "2190-01-01", "certificate": "K-17"}

        assert api.post(f"/instruments/{tool.pk}/calibrations", body, version=7).status_code == 412

    def test_are_found_by_the_day_they_fall_due(self, api, site):
        soon = makers.make_instrument(site, calibration_due_on=DUE)
        makers.make_instrument(site)

        rows = api.get("/instruments", calibration_due_before="2026-03-02").json()["results"]

        assert [row["id"] for row in rows] == [str(soon.pk)]
