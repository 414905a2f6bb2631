"""A measurement is never unsaid by an estimate: which assessment stands, and what it costs in segments."""

from __future__ import annotations

from datetime import timedelta

import pytest

from findings.logbook.models import Entry
from findings.losses.queries import segments_of
from findings.readings.rules import DirectMethod
from findings.register import actions
from findings.register.models import Assessment, Finding
from tests.findings.chain import ACTOR, LATER, Plant, chain
from tests.makers import NOW
from tests.people import api_as

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
HOLE = {"hole_diameter_m": 0.002, "edge": "sharp"}
M3_PER_H_OF_HOLE = pytest.approx(9.6106, abs=0.01)
"""Air at 6 bar gauge through 2 mm with 0.61: 75.006 l/min × 4 × 0.61 × 7.013/8.013."""


def stated(m3_per_h: float) -> dict[str, object]:
    return {"flow_m3_per_s": m3_per_h / 3600, "flow_u_m3_per_s": 0.0, "flow_method": "stated"}


def fresh(finding: Finding) -> Finding:
    return Finding.objects.select_related("standing").get(pk=finding.pk)


class TestAMeasurementAfterAnEstimate:
    def test_ends_the_estimates_segment_and_begins_its_own_when_it_was_taken(self):
        plant = Plant()
        finding = plant.take(**HOLE).finding

        plant.take(m3_per_h=6.0, taken_at=NOW + DAY)

        assert chain(finding) == [
            (NOW, NOW + DAY, M3_PER_H_OF_HOLE, "found", "changed"),
            (NOW + DAY, None, 6.0, "changed", ""),
        ]

    @pytest.mark.parametrize("method", [one for one in DirectMethod if one is not DirectMethod.STATED])
    def test_counts_however_it_was_measured(self, method):
        plant = Plant()
        finding = plant.take(**HOLE).finding

        plant.take(taken_at=NOW + DAY, **{**stated(6.0), "flow_method": method})

        assert (fresh(finding).leak_rate_status, chain(finding)[-1][2]) == ("measured", 6.0)

    def test_is_what_the_finding_rests_on(self):
        plant = Plant()
        finding = plant.take(**HOLE).finding

        plant.take(m3_per_h=6.0, taken_at=NOW + DAY)

        found = fresh(finding)
        assert (found.leak_rate_status, found.standing.method) == ("measured", "meter")

    def test_of_the_same_figure_begins_its_own_segment_all_the_same(self):
        plant = Plant()
        finding = plant.take(**stated(6.0)).finding

        plant.take(m3_per_h=6.0, taken_at=NOW + DAY)

        methods = [segment.method for segment in segments_of(finding.pk)]
        assert methods == ["stated", "meter"]

    def test_that_arrives_late_holds_from_when_it_was_taken(self):
        plant = Plant()
        finding = plant.take(**HOLE).finding
        plant.take(**HOLE, level_db=44.0, taken_at=NOW + 5 * DAY)

        plant.take(m3_per_h=6.0, taken_at=NOW + DAY)

        assert [row[2] for row in chain(finding)] == [M3_PER_H_OF_HOLE, 6.0]
        assert chain(finding)[-1][0] == NOW + DAY
        assert fresh(finding).last_heard_at == NOW + 5 * DAY


class TestAnEstimateAfterAMeasurement:
    def _both(self) -> tuple[Finding, Assessment]:
        plant = Plant()
        finding = plant.leak(6.0)
        later = plant.take(**HOLE, level_db=44.0, taken_at=NOW + DAY)
        return fresh(finding), Assessment.objects.get(reading=later.reading)

    def test_begins_no_segment(self):
        finding, _ = self._both()

        assert chain(finding) == [(NOW, None, 6.0, "found", "")]
        assert segments_of(finding.pk, with_void=True).count() == 1

    def test_leaves_the_finding_on_the_measurement(self):
        finding, _ = self._both()

        assert (finding.leak_rate_status, finding.last_heard_at) == ("measured", NOW + DAY)

    def test_is_kept_and_says_why_it_is_history(self):
        _, estimate = self._both()

        assert estimate.leak_rate_m3_per_s * 3600 == M3_PER_H_OF_HOLE
        assert estimate.reasons[-1]["code"] == "weaker_evidence"

    def test_is_not_what_the_findings_door_shows(self):
        finding, _ = self._both()

        shown = api_as("inspector", finding.site).get(f"/findings/{finding.pk}").json()

        assert (shown["assessment"]["method"], shown["leak_rate_status"]) == ("meter", "measured")

    def test_is_told_in_the_logbook(self):
        finding, estimate = self._both()

        entry = Entry.objects.filter(subject_id=finding.pk).latest("sequence")
        assert entry.detail["rate_kept"]["assessment_id"] == str(estimate.pk)

    def test_replaces_it_once_a_repair_came_between(self):
        plant = Plant()
        finding = plant.leak(6.0)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)
        after = plant.take(level_db=44.0, taken_at=NOW + 2 * DAY)
        actions.reject_repair(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=after.reading.pk)

        plant.take(**HOLE, taken_at=NOW + 3 * DAY)

        assert fresh(finding).leak_rate_status == "estimated"

    def test_replaces_it_once_the_finding_was_closed_and_came_back(self):
        plant = Plant()
        finding = plant.leak(6.0)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)
        quiet = plant.take(kind="", taken_at=NOW + 2 * DAY)
        actions.close_by_reading(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=quiet.reading.pk)

        again = plant.take(**HOLE, taken_at=NOW + 3 * DAY)

        assert (again.outcome, fresh(finding).leak_rate_status) == ("reopened", "estimated")


class TestALaterMeasurement:
    def test_that_arrives_before_an_older_one_keeps_its_place(self):
        plant = Plant()
        finding = plant.take(**HOLE).finding
        plant.take(m3_per_h=6.0, taken_at=NOW + 5 * DAY)

        late = plant.take(m3_per_h=4.0, taken_at=NOW + DAY)

        assert [row[2] for row in chain(finding)] == [M3_PER_H_OF_HOLE, 6.0]
        assert Assessment.objects.get(reading=late.reading).reasons[-1]["code"] == "older_evidence"


class TestAStatedRate:
    def test_stands_before_an_estimate(self):
        plant = Plant()
        finding = plant.take(**stated(8.0)).finding

        plant.take(**HOLE, taken_at=NOW + DAY)

        assert [row[2] for row in chain(finding)] == [8.0]

    def test_gives_way_to_a_measurement(self):
        plant = Plant()
        finding = plant.take(**stated(8.0)).finding

        plant.take(m3_per_h=6.0, taken_at=NOW + DAY)

        assert [row[2] for row in chain(finding)] == [8.0, 6.0]

    def test_never_replaces_a_measurement(self):
        plant = Plant()
        finding = plant.leak(6.0)

        plant.take(**stated(8.0), taken_at=NOW + DAY)

        assert [row[2] for row in chain(finding)] == [6.0]


class TestARateMeasuredAtAFailedRepair:
    def test_stays_a_measured_one(self):
        plant = Plant()
        finding = plant.leak(10.0)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)
        after = plant.take(m3_per_h=4.0, taken_at=NOW + 2 * DAY)

        actions.reject_repair(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=after.reading.pk)

        assert fresh(finding).leak_rate_status == "measured"

    def test_is_not_replaced_by_an_estimate_afterwards(self):
        plant = Plant()
        finding = plant.leak(10.0)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)
        after = plant.take(m3_per_h=4.0, taken_at=NOW + 2 * DAY)
        actions.reject_repair(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=after.reading.pk)

        plant.take(**HOLE, taken_at=NOW + 3 * DAY)

        assert chain(finding)[-1][2] == 4.0


class TestACorrection:
    def test_by_an_estimate_lets_a_stated_rate_stand_that_the_wrong_measurement_had_replaced(self):
        plant = Plant()
        finding = plant.take(**stated(8.0)).finding
        wrong = plant.take(m3_per_h=60.0, taken_at=NOW + DAY)

        plant.take(**HOLE, corrects_id=wrong.reading.pk, taken_at=NOW + DAY)

        assert [row[2] for row in chain(finding)] == [8.0, 8.0]
        assert fresh(finding).leak_rate_status == "stated"

    def test_by_an_estimate_lets_a_later_one_hold_that_the_wrong_measurement_kept_back(self):
        plant = Plant()
        wrong = plant.take(m3_per_h=60.0)
        plant.take(hole_diameter_m=0.001, edge="sharp", taken_at=NOW + DAY)

        plant.take(**HOLE, corrects_id=wrong.reading.pk, taken_at=NOW)

        rates = [row[2] for row in chain(wrong.finding)]
        assert rates == [M3_PER_H_OF_HOLE, pytest.approx(9.6106 / 4, abs=0.01)]

    def test_of_an_estimate_that_never_counted_changes_no_money(self):
        plant = Plant()
        finding = plant.leak(6.0)
        wrong = plant.take(**HOLE, taken_at=NOW + DAY)

        plant.take(hole_diameter_m=0.001, corrects_id=wrong.reading.pk, taken_at=NOW + DAY)

        assert chain(finding) == [(NOW, None, 6.0, "found", "")]
        assert fresh(finding).leak_rate_status == "measured"


class TestAMerge:
    def _merged(self, first: dict, second: dict) -> tuple[Finding, Finding]:
        plant = Plant()
        duplicate = plant.take(taken_at=NOW + DAY, **second).finding
        survivor = plant.take(plant.another_point(), **first).finding
        actions.merge(
            actor=ACTOR,
            at=LATER,
            duplicate_id=duplicate.pk,
            survivor_id=survivor.pk,
            reason="the same hose",
        )
        return fresh(survivor), fresh(duplicate)

    def test_lets_the_duplicates_measurement_replace_the_survivors_estimate(self):
        survivor, _ = self._merged(HOLE, {"m3_per_h": 6.0})

        assert survivor.leak_rate_status == "measured"
        assert [(row[0], row[2]) for row in chain(survivor)] == [
            (NOW, M3_PER_H_OF_HOLE),
            (NOW + DAY, 6.0),
        ]

    def test_keeps_the_survivors_measurement_before_the_duplicates_estimate(self):
        survivor, _ = self._merged({"m3_per_h": 6.0}, HOLE)

        assert chain(survivor) == [(NOW, None, 6.0, "found", "")]

    def test_that_is_taken_back_gives_each_its_own_rate_again(self):
        survivor, duplicate = self._merged(HOLE, {"m3_per_h": 6.0})

        actions.separate(actor=ACTOR, at=LATER + DAY, finding_id=duplicate.pk, text="two hoses side by side")

        assert {row[2] == M3_PER_H_OF_HOLE for row in chain(survivor)} == {True}
        assert (fresh(survivor).leak_rate_status, fresh(survivor).opened_at) == ("estimated", NOW)
        assert chain(duplicate) == [(NOW + DAY, None, 6.0, "separated", "")]


class TestAClassification:
    def test_weighs_the_readings_so_far(self):
        plant = Plant(medium="nitrogen")
        finding = plant.take(medium="", m3_per_h=6.0).finding
        plant.take(medium="", **HOLE, taken_at=NOW + DAY)

        actions.classify(
            actor=ACTOR,
            at=LATER,
            finding_id=finding.pk,
            medium="nitrogen",
            text="the label says nitrogen",
        )

        assert [row[2] for row in chain(finding)] == [6.0]
