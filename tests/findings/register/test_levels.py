"""What a level says of a leak's flow in the register, and what a measured leak teaches its instrument."""

from __future__ import annotations

import math
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError

from findings.calibration.models import CalibrationLeak
from findings.kinds.base import Medium
from findings.logbook.models import Entry
from findings.losses.models import LossSegment
from findings.register import actions
from findings.register.models import Assessment, Finding
from tests.findings.calibration.nozzles import calibrate, true_flow
from tests.findings.chain import ACTOR, LATER, Plant, chain
from tests.makers import NOW, make_calibration_leak, make_instrument
from tests.people import actor_at, api_as

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
HEARD: dict[str, Any] = {
    "level_db": 62.0,
    "background_db": 30.0,
    "distance_m": 1.0,
    "attachment": "open_horn",
    "leak_family": "hole",
    "pressure_gauge_pa": 600_000.0,
}
METERED: dict[str, Any] = {
    "flow_m3_per_s": 3e-5,
    "flow_u_m3_per_s": 1e-6,
    "flow_method": "flow_meter",
}


class Works(Plant):
    """A plant whose walks are made with one instrument, on an absolute scale unless said otherwise."""

    def __init__(self, scale: str = "absolute") -> None:
        super().__init__()
        self.tool = make_instrument(self.site, scale=scale)

    def hear(self, **values: Any) -> Any:
        """Take a reading that carries all that a level needs."""
        return self.take(**{"instrument_id": self.tool.pk, **HEARD, **values})


def codes(finding: Finding) -> list[str]:
    """Return the codes of the reasons of a finding's last assessment."""
    assessment = Assessment.objects.filter(finding=finding).order_by("-recorded_at", "-id")[0]
    return [reason["code"] for reason in assessment.reasons]


class TestALevelOfAnUncalibratedInstrument:
    def test_indicates_an_interval_and_no_figure(self):
        finding = Works().hear().finding

        assert (finding.leak_rate_m3_per_s, finding.leak_rate_status) == (None, "indicative")
        assert 10 < finding.leak_rate_high_m3_per_s / finding.leak_rate_low_m3_per_s < 1000
        assert "not_calibrated" in codes(finding)

    def test_makes_no_loss(self):
        finding = Works().hear().finding

        assert chain(finding) == []

    def test_makes_no_cost_and_says_why(self):
        works = Works()
        finding = works.hear().finding

        shown = api_as("inspector", works.site).get(f"/findings/{finding.pk}").json()

        assert shown["cost"]["full_load"]["per_hour"] is None
        assert [reason["code"] for reason in shown["cost"]["full_load"]["reasons"]] == [
            "leak_rate_indicative"
        ]
        assert shown["assessment"]["status"] == "indicative"
        assert "not_calibrated" in [reason["code"] for reason in shown["assessment"]["reasons"]]

    def test_never_becomes_a_segment_whoever_writes_it(self):
        works = Works()
        finding = works.hear().finding
        assessment = Assessment.objects.get(finding=finding)

        with pytest.raises(IntegrityError, match="indicative"):
            LossSegment.objects.create(
                site=works.site,
                finding=finding,
                system=works.system,
                started_at=NOW,
                start_reason="found",
                leak_rate_m3_per_s=Decimal("0.00003"),
                method="level",
                method_version="1",
                assessment_id=assessment.pk,
                recorded_at=NOW,
            )

    def test_never_becomes_a_figure_whoever_writes_it(self):
        finding = Works().hear().finding

        with pytest.raises(IntegrityError, match="finding_indicative_is_an_interval"):
            Finding.objects.filter(pk=finding.pk).update(leak_rate_m3_per_s=Decimal("0.00003"))

    def test_keeps_the_model_and_the_evidence_that_it_was_made_of(self):
        finding = Works().hear().finding

        inputs = Assessment.objects.get(finding=finding).inputs
        level = inputs["evidence"]["level"]["inputs"]
        assert (level["model"]["count"], level["evidence"]["level_db"]) == (0, 62.0)

    def test_gives_way_to_the_first_figure(self):
        works = Works()
        finding = works.hear().finding

        works.take(m3_per_h=10.0, taken_at=NOW + DAY)

        finding.refresh_from_db()
        assert (finding.leak_rate_status, chain(finding)[0][2]) == ("measured", 10.0)

    def test_never_unsays_a_figure(self):
        works = Works()
        finding = works.leak(10)

        works.hear(taken_at=NOW + DAY)

        finding.refresh_from_db()
        assert finding.leak_rate_status == "measured"
        assert chain(finding) == [(NOW, None, 10.0, "found", "")]

    def test_is_not_shown_in_place_of_a_figure(self):
        works = Works()
        finding = works.leak(10)
        works.hear(taken_at=NOW + DAY)

        shown = api_as("inspector", works.site).get(f"/findings/{finding.pk}").json()

        assert shown["assessment"]["status"] == "measured"

    def test_is_no_residual_of_a_repair_that_failed(self):
        works = Works()
        finding = works.leak(10)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)
        after = works.hear(taken_at=NOW + 2 * DAY).reading

        actions.reject_repair(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=after.pk)

        assert chain(finding)[-1] == (NOW + DAY, None, 10.0, "repair_failed", "")

    def test_is_indicated_again_when_a_closed_finding_comes_back(self):
        works = Works()
        finding = works.leak(10)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)
        quiet = works.take(kind="", taken_at=NOW + 2 * DAY).reading
        actions.close_by_reading(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=quiet.pk)

        works.hear(taken_at=NOW + 30 * DAY)

        finding.refresh_from_db()
        assert (finding.leak_rate_status, finding.leak_rate_m3_per_s) == ("indicative", None)
        assert [row[4] for row in chain(finding)] == ["repaired"]

    def test_indicates_once_the_medium_is_named(self):
        works = Works()
        finding = works.hear(medium="").finding
        assert finding.leak_rate_status == "refused"

        named = actions.classify(
            actor=actor_at(works.site, "inspector"),
            at=LATER,
            finding_id=finding.pk,
            medium=Medium.COMPRESSED_AIR,
            text="the hose is blue",
        )

        assert (named.leak_rate_status, chain(named)) == ("indicative", [])


class TestALevelOfACalibratedInstrument:
    def test_gives_a_figure_near_the_truth_and_begins_the_loss(self):
        works = Works("relative")
        calibrate(works.tool)

        finding = works.hear().finding

        truth = true_flow(62.0, 701_325.0 / 101_325.0)
        assert finding.leak_rate_status == "estimated"
        assert float(finding.leak_rate_low_m3_per_s) < truth < float(finding.leak_rate_high_m3_per_s)
        assert abs(math.log10(float(finding.leak_rate_m3_per_s) / truth)) < 0.1
        assert chain(finding)[0][2] == pytest.approx(float(finding.leak_rate_m3_per_s) * 3600, abs=1e-4)

    def test_leans_on_what_was_known_at_its_moment_only(self):
        works = Works()
        calibrate(works.tool, taken_at=NOW + DAY)

        assert works.hear().finding.leak_rate_status == "indicative"

    def test_leans_on_no_void_leak(self):
        works = Works()
        calibrate(works.tool, void_at=NOW, void_reason="a wrong nozzle")

        assert works.hear().finding.leak_rate_status == "indicative"

    @pytest.mark.parametrize("other", [{"attachment": "dish"}, {"leak_family": "slot"}])
    def test_says_nothing_of_another_setup(self, other):
        works = Works("relative")
        calibrate(works.tool)

        finding = works.hear(**other).finding

        assert (finding.leak_rate_status, finding.leak_rate_low_m3_per_s) == ("refused", None)

    def test_with_few_leaks_indicates_only(self):
        works = Works()
        make_calibration_leak(works.tool)

        finding = works.hear().finding

        assert finding.leak_rate_status == "indicative"
        assert "few_calibration_leaks" in codes(finding)

    def test_never_unsays_a_measurement(self):
        works = Works()
        calibrate(works.tool)
        finding = works.leak(10)

        works.hear(taken_at=NOW + DAY)

        assert chain(finding) == [(NOW, None, 10.0, "found", "")]

    def test_is_not_asked_where_the_hole_is_known(self):
        works = Works()
        calibrate(works.tool)

        finding = works.hear(hole_diameter_m=0.002).finding

        assert Assessment.objects.get(finding=finding).method == "orifice"


class TestALevelThatTellsNothing:
    @pytest.mark.parametrize(
        ("values", "code"),
        [
            ({"instrument_id": None}, "instrument_missing"),
            ({"attachment": ""}, "attachment_missing"),
            ({"attachment": "contact_probe"}, "attachment_not_airborne"),
            ({"distance_m": None}, "distance"),
            ({"background_db": 60.0}, "background"),
        ],
    )
    def test_is_refused_with_what_is_missing(self, values, code):
        finding = Works().hear(**values).finding

        assert (finding.leak_rate_status, finding.leak_rate_m3_per_s) == ("refused", None)
        assert code in codes(finding)

    def test_on_a_relative_scale_only_ranks(self):
        assert "no_absolute_reference" in codes(Works("relative").hear().finding)

    def test_heard_again_through_who_knows_what_is_not_assessed(self):
        works = Works()
        finding = works.leak(10)

        works.take(level_db=44.0, taken_at=NOW + DAY)

        assert Assessment.objects.filter(finding=finding).count() == 1


class TestALeakHeardAndMeasured:
    def test_teaches_its_instrument_in_the_same_act(self):
        works = Works()

        reading = works.hear(**METERED).reading

        leak = CalibrationLeak.objects.get()
        assert (leak.reading, leak.instrument, leak.gas) == (reading, works.tool, "air")
        assert leak.pressure_ratio == pytest.approx(701_325.0 / 101_325.0)
        assert leak.normalised_level_db == pytest.approx(62.0)
        assert Entry.objects.filter(act="calibration_leak.added", subject_id=leak.pk).count() == 1

    def test_takes_the_pressure_of_the_system_where_none_was_read(self):
        Works().hear(**METERED, pressure_gauge_pa=None)

        assert CalibrationLeak.objects.get().pressure_ratio == pytest.approx(701_325.0 / 101_325.0)

    def test_of_unknown_shape_teaches_of_leaks_of_unknown_shape(self):
        Works().hear(**METERED, leak_family="")

        assert CalibrationLeak.objects.get().leak_family == "unknown"

    @pytest.mark.parametrize(
        "values",
        [
            {"instrument_id": None},
            {"attachment": ""},
            {"attachment": "contact_probe"},
            {"distance_m": None},
            {"level_db": None},
            {"background_db": 60.0},
            {"flow_method": "stated"},
            {"flow_u_m3_per_s": None},
            {"flow_u_m3_per_s": 2e-5},
            {"medium": "argon", "pressure_gauge_pa": None},
        ],
    )
    def test_teaches_nothing_where_a_part_of_it_is_missing_or_unsure(self, values):
        Works().hear(**{**METERED, **values})

        assert not CalibrationLeak.objects.exists()

    def test_sent_twice_teaches_once(self):
        works = Works()
        for _ in range(2):
            works.hear(**METERED, client_id="again")

        assert CalibrationLeak.objects.count() == 1

    def test_that_was_wrong_is_voided_by_its_correction_which_teaches_anew(self):
        works = Works()
        wrong = works.hear(**METERED).reading

        right = works.hear(**{**METERED, "flow_m3_per_s": 4e-5}, corrects_id=wrong.pk).reading

        old, new = CalibrationLeak.objects.order_by("recorded_at", "id")
        assert (old.reading, old.void_at, old.void_reason) == (wrong, LATER, "the reading was corrected")
        assert (new.reading, new.void_at, new.flow_m3_per_s) == (right, None, 4e-5)
        assert Entry.objects.filter(act="calibration_leak.voided", subject_id=old.pk).count() == 1


class TestACorrection:
    def test_of_an_indicative_reading_that_tells_nothing_takes_the_interval_back(self):
        works = Works()
        wrong = works.hear()

        finding = works.hear(distance_m=None, corrects_id=wrong.reading.pk).finding

        assert (finding.leak_rate_status, finding.leak_rate_low_m3_per_s) == ("refused", None)

    def test_of_a_bare_level_may_indicate_an_interval(self):
        works = Works()
        wrong = works.take(level_db=62.0)

        finding = works.hear(corrects_id=wrong.reading.pk).finding

        assert (finding.leak_rate_status, chain(finding)) == ("indicative", [])
