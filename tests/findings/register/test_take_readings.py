"""What a reading means for the findings at its measuring point."""

from __future__ import annotations

from datetime import timedelta

import pytest

from findings.logbook.models import Entry
from findings.losses.queries import segments_of
from findings.register import actions
from findings.register.models import Assessment, Evidence, Finding
from plantcare.api.problems import Refusal
from tests.findings.chain import ACTOR, LATER, Plant, chain
from tests.makers import NOW, new_reading

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)


class TestTheFirstReadingOfALeak:
    def test_opens_a_finding_with_the_sites_next_number(self):
        plant = Plant()

        numbers = [plant.leak(point=plant.another_point()).number for _ in range(3)]

        assert numbers == [1, 2, 3]

    def test_begins_the_loss_when_it_was_taken(self):
        finding = Plant().leak(10)

        assert chain(finding) == [(NOW, None, 10.0, "found", "")]

    def test_keeps_method_version_interval_and_inputs_of_the_assessment(self):
        plant = Plant()

        finding = plant.take(hole_diameter_m=0.002).finding

        assessment = Assessment.objects.get(finding=finding)
        assert (assessment.method, assessment.status) == ("orifice", "estimated")
        assert assessment.low_m3_per_s < assessment.leak_rate_m3_per_s < assessment.high_m3_per_s
        assert assessment.inputs["pressure_from"] == "system"

    def test_takes_the_readings_own_pressure_before_the_systems(self):
        plant = Plant()

        low = plant.take(hole_diameter_m=0.002, pressure_gauge_pa=300_000.0).finding
        high = plant.take(plant.another_point(), hole_diameter_m=0.002).finding

        assert low.leak_rate_m3_per_s < high.leak_rate_m3_per_s

    def test_without_evidence_of_a_flow_has_no_rate_and_no_loss_never_zero(self):
        finding = Plant().take(level_db=40.0).finding

        assert finding.leak_rate_m3_per_s is None
        assert chain(finding) == []
        assert Assessment.objects.get(finding=finding).reasons[0]["code"] == "diameter_missing"

    def test_on_an_unknown_medium_is_a_safety_finding_until_it_is_classified(self):
        finding = Plant().take(medium="", hole_diameter_m=0.002).finding

        assert (finding.medium, finding.is_safety, finding.hazard) == ("", True, "gas")
        assert finding.leak_rate_m3_per_s is None

    def test_on_a_medium_that_no_system_brings_has_a_rate_but_no_price(self):
        finding = Plant().take(medium="argon", m3_per_h=3.0).finding

        assert finding.leak_rate_m3_per_s is not None
        assert chain(finding) == []
        codes = [reason["code"] for reason in Assessment.objects.get(finding=finding).reasons]
        assert "system_missing" in codes

    def test_of_another_kind_is_recorded_with_level_severity_and_danger(self):
        finding = Plant().take(kind="electrical_discharge", level_db=31.0, severity=4).finding

        assert (finding.level_db, finding.severity, finding.hazard) == (31.0, 4, "electrical")
        assert finding.is_safety
        assert not Assessment.objects.exists()

    def test_of_steam_counts_its_mass_as_the_vapour_of_the_books(self):
        plant = Plant(medium="steam")

        finding = plant.take(medium="steam", hole_diameter_m=0.003, edge="rounded").finding

        # Napier by API 520: 1.45678e-3 × 0.97 × π/4 × (3 mm)² × 7.01325 bar = 7.005e-3 kg/s; as ideal vapour
        # of 0.73912 kg/m3 (ideal gas law) 34.12 m3/h.
        assessment = Assessment.objects.get(finding=finding)
        assert assessment.inputs["mass_flow_kg_per_s"] == pytest.approx(7.005e-3, rel=1e-3)
        assert chain(finding) == [(NOW, None, pytest.approx(34.12, rel=1e-3), "found", "")]
        assert "steam_booked_as_vapour" in {reason["code"] for reason in assessment.reasons}

    def test_of_a_vacuum_lets_in_air_at_the_systems_absolute_pressure(self):
        plant = Plant(medium="vacuum", pressure_gauge_pa=-61_325.0)

        finding = plant.take(kind="vacuum_leak", medium="vacuum", hole_diameter_m=0.001, edge="sharp").finding

        # 9.484 l/min at coefficient 1 into 40 kPa absolute, 23.711 l/min at the pump: choked inflow of the
        # ideal nozzle.
        assessment = Assessment.objects.get(finding=finding)
        assert assessment.leak_rate_m3_per_s * 60_000 == pytest.approx(0.61 * 9.484, rel=1e-3)
        assert assessment.inputs["pump_inlet_flow_m3_per_s"] * 60_000 == pytest.approx(
            0.61 * 23.711, rel=1e-3
        )
        assert chain(finding)[0][2] == pytest.approx(0.61 * 9.484 * 0.06, rel=1e-3)

    def test_of_a_vacuum_takes_the_lines_own_pressure_at_the_leak_and_the_systems_at_the_pump(self):
        plant = Plant(medium="vacuum", pressure_gauge_pa=-61_325.0)

        finding = plant.take(
            kind="vacuum_leak",
            medium="vacuum",
            hole_diameter_m=0.001,
            edge="sharp",
            pressure_gauge_pa=-6_325.0,
        ).finding

        # 4.728 l/min into 95 kPa absolute (ideal nozzle, subsonic); the pump sees them at 40 kPa.
        inputs = Assessment.objects.get(finding=finding).inputs
        assert inputs["pump_inlet_flow_m3_per_s"] * 60_000 == pytest.approx(0.61 * 4.728 * 2.5, rel=1e-3)

    def test_of_a_vacuum_without_a_system_or_a_pressure_is_refused(self):
        finding = Plant().take(kind="vacuum_leak", medium="vacuum", hole_diameter_m=0.001).finding

        codes = {reason["code"] for reason in Assessment.objects.get(finding=finding).reasons}
        assert {"pressure_missing", "system_missing"} <= codes
        assert finding.leak_rate_m3_per_s is None

    def test_of_an_enclosure_says_that_a_tone_gives_no_flow(self):
        finding = Plant().take(kind="enclosure_leak", level_db=38.0).finding

        assessment = Assessment.objects.get(finding=finding)
        assert [reason["code"] for reason in assessment.reasons] == ["no_flow_from_tone"]
        assert (finding.leak_rate_m3_per_s, chain(finding)) == (None, [])


class TestAFurtherReadingOfTheSameLeak:
    def test_belongs_to_the_same_finding(self):
        plant = Plant()
        finding = plant.leak(10)

        again = plant.take(level_db=44.0, taken_at=NOW + DAY)

        assert (again.outcome, again.finding) == ("heard_again", finding)
        assert Finding.objects.count() == 1

    def test_with_another_flow_works_forward_only(self):
        plant = Plant()
        finding = plant.leak(10)

        plant.take(m3_per_h=16.0, taken_at=NOW + DAY)

        assert chain(finding) == [
            (NOW, NOW + DAY, 10.0, "found", "changed"),
            (NOW + DAY, None, 16.0, "changed", ""),
        ]

    def test_without_a_flow_leaves_the_rate_as_it_was(self):
        plant = Plant()
        finding = plant.leak(10)

        plant.take(level_db=44.0, taken_at=NOW + DAY)

        assert chain(finding) == [(NOW, None, 10.0, "found", "")]

    def test_taken_before_the_last_one_known_is_evidence_with_a_warning(self):
        plant = Plant()
        finding = plant.leak(10)

        late = plant.take(m3_per_h=30.0, taken_at=NOW - DAY)

        finding.refresh_from_db()
        assert [warning["code"] for warning in late.reading.warnings if "older" in warning["code"]] == [
            "older_than_last"
        ]
        assert finding.found_at == NOW
        assert chain(finding) == [(NOW, None, 10.0, "found", "")]
        assert Evidence.objects.filter(finding=finding).count() == 2

    def test_at_a_point_whose_finding_was_merged_speaks_for_the_survivor(self):
        plant = Plant()
        duplicate = plant.leak(7)
        survivor = plant.leak(10, plant.another_point())
        actions.merge(
            actor=ACTOR, at=LATER, duplicate_id=duplicate.pk, survivor_id=survivor.pk, reason="the same hose"
        )

        assert plant.take(level_db=40.0, taken_at=NOW + DAY).finding == survivor


class TestAReadingAfterTheRepair:
    def test_changes_nothing_until_it_is_judged(self):
        plant = Plant()
        finding = plant.leak(10)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)

        heard = plant.take(m3_per_h=4.0, taken_at=NOW + 2 * DAY)

        assert (heard.outcome, heard.finding.status) == ("after_repair", "repaired")
        assert chain(finding) == [(NOW, NOW + DAY, 10.0, "found", "repaired")]

    def test_that_is_quiet_speaks_for_the_repaired_finding(self):
        plant = Plant()
        finding = plant.leak(10)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)

        quiet = plant.take(kind="", taken_at=NOW + 2 * DAY)

        assert (quiet.outcome, quiet.finding) == ("after_repair", finding)

    def test_within_a_year_reopens_the_closed_finding(self):
        plant = Plant()
        finding = _closed(plant)

        again = plant.take(m3_per_h=8.0, taken_at=NOW + 100 * DAY)

        assert (again.outcome, again.finding) == ("reopened", finding)
        assert again.finding.reopened_count == 1
        assert chain(finding)[-1] == (NOW + 100 * DAY, None, 8.0, "reopened", "")

    def test_later_than_a_year_is_a_new_finding_that_names_the_old(self):
        plant = Plant()
        finding = _closed(plant)

        again = plant.take(m3_per_h=8.0, taken_at=NOW + 367 * DAY)

        assert (again.outcome, again.finding.follows) == ("found", finding)

    def test_that_arrives_late_from_before_the_closure_does_not_reopen(self):
        plant = Plant()
        finding = _closed(plant)

        late = plant.take(m3_per_h=8.0, taken_at=NOW + DAY / 2)

        assert late.finding == finding
        assert late.finding.status == "closed"


class TestAQuietReading:
    def test_makes_no_finding(self):
        assert Plant().take(kind="").finding is None

    def test_from_before_the_find_says_nothing_about_it(self):
        plant = Plant()
        finding = plant.leak(10)

        late = plant.take(kind="", taken_at=NOW - DAY)

        assert late.finding is None
        assert Evidence.objects.filter(finding=finding).count() == 1

    def test_is_kept_as_evidence_of_what_is_open_at_the_point(self):
        plant = Plant()
        finding = plant.leak(10)

        plant.take(kind="", taken_at=NOW + DAY)

        roles = Evidence.objects.filter(finding=finding).order_by("recorded_at", "id")
        assert list(roles.values_list("role", flat=True)) == ["found", "quiet"]


class TestTheSameClientId:
    def test_with_the_same_content_answers_the_same(self):
        plant = Plant()
        item = new_reading(plant.point, hole_diameter_m=0.002)

        first, second = (
            actions.take_reading(actor=ACTOR, at=LATER, survey_id=plant.survey.pk, item=item)
            for _ in range(2)
        )

        assert (second.outcome, second.reading, second.finding) == ("known", first.reading, first.finding)
        assert not second.created

    def test_with_other_content_is_refused(self):
        plant = Plant()
        plant.take(client_id="mine", level_db=40.0)

        with pytest.raises(Refusal) as refused:
            plant.take(client_id="mine", level_db=41.0)

        assert (refused.value.status, refused.value.code) == (409, "reading_client_id_reused")


class TestABatch:
    def test_keeps_the_good_ones_and_says_what_is_wrong_with_the_others(self):
        plant = Plant()
        items = [new_reading(plant.point), new_reading(plant.point, level_db=999.0)]

        good, bad = actions.take_readings(
            actor=ACTOR, at=LATER, survey_id=plant.survey.pk, items=items, all_or_nothing=False
        )

        assert good.outcome == "found"
        assert [error.pointer for error in bad.errors] == ["/level_db"]

    def test_of_all_or_nothing_keeps_nothing_when_one_is_bad(self):
        plant = Plant()
        items = [new_reading(plant.point), new_reading(plant.point, level_db=999.0)]

        with pytest.raises(Refusal) as refused:
            actions.take_readings(actor=ACTOR, at=LATER, survey_id=plant.survey.pk, items=items)

        assert [error.pointer for error in refused.value.errors] == ["/items/1/level_db"]
        assert not Finding.objects.exists()

    def test_concludes_in_the_order_taken_and_answers_in_the_order_sent(self):
        plant = Plant()
        items = [
            new_reading(plant.point, level_db=44.0, taken_at=NOW + DAY),
            new_reading(plant.point, level_db=40.0, taken_at=NOW),
        ]

        taken = actions.take_readings(actor=ACTOR, at=LATER, survey_id=plant.survey.pk, items=items)

        assert [one.outcome for one in taken] == ["heard_again", "found"]

    def test_gives_no_number_to_a_refused_reading(self):
        plant = Plant()
        items = [
            new_reading(plant.point, medium="nonsense"),
            new_reading(plant.another_point()),
            new_reading(plant.another_point()),
        ]

        taken = actions.take_readings(
            actor=ACTOR, at=LATER, survey_id=plant.survey.pk, items=items, all_or_nothing=False
        )

        assert [one.finding.number for one in taken[1:]] == [1, 2]

    def test_writes_one_entry_for_each_reading_and_for_each_finding_it_changed(self):
        plant = Plant()
        items = [new_reading(plant.point), new_reading(plant.another_point(), kind="")]

        actions.take_readings(actor=ACTOR, at=LATER, survey_id=plant.survey.pk, items=items)

        acts = list(Entry.objects.order_by("sequence").values_list("act", flat=True))
        assert acts == ["reading.taken", "finding.opened", "reading.taken"]


class TestEveryChangeOfAFinding:
    def test_has_exactly_one_entry_of_its_own_version(self):
        plant = Plant()
        finding = plant.leak(10)
        plant.take(m3_per_h=12.0, taken_at=NOW + DAY)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + 2 * DAY)
        after = plant.take(level_db=40.0, taken_at=NOW + 3 * DAY)
        actions.reject_repair(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=after.reading.pk)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + 4 * DAY)
        quiet = plant.take(kind="", taken_at=NOW + 5 * DAY)
        actions.close_by_reading(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=quiet.reading.pk)
        plant.take(m3_per_h=8.0, taken_at=NOW + 6 * DAY)

        finding.refresh_from_db()
        only_heard = ["finding.heard_after_repair", "finding.quiet", "finding.heard_before"]
        changes = Entry.objects.filter(subject_id=finding.pk).exclude(act__in=only_heard)
        versions = list(changes.order_by("sequence").values_list("subject_version", flat=True))
        assert versions == list(range(1, finding.version + 1))


class TestACorrection:
    def test_replaces_the_rate_back_to_the_event_that_set_it(self):
        plant = Plant()
        wrong = plant.take(m3_per_h=10.0)

        plant.take(m3_per_h=6.0, corrects_id=wrong.reading.pk, taken_at=NOW + 40 * DAY)

        assert chain(wrong.finding) == [(NOW, None, 6.0, "corrected", "")]

    def test_of_a_later_change_leaves_the_time_before_alone(self):
        plant = Plant()
        finding = plant.leak(10)
        wrong = plant.take(m3_per_h=16.0, taken_at=NOW + DAY)

        plant.take(m3_per_h=12.0, corrects_id=wrong.reading.pk, taken_at=NOW + DAY)

        assert [row[2] for row in chain(finding)] == [10.0, 12.0]

    def test_keeps_the_superseded_segment_readable(self):
        plant = Plant()
        wrong = plant.take(m3_per_h=10.0)
        plant.take(m3_per_h=6.0, corrects_id=wrong.reading.pk)

        voided = segments_of(wrong.finding.pk, with_void=True).filter(void_at__isnull=False)
        assert [row.void_reason for row in voided] == ["the estimate was wrong"]

    def test_that_adds_a_forgotten_flow_counts_from_the_find(self):
        plant = Plant()
        wrong = plant.take(level_db=40.0)

        plant.take(m3_per_h=6.0, corrects_id=wrong.reading.pk, taken_at=NOW + DAY)

        assert chain(wrong.finding) == [(NOW, None, 6.0, "corrected", "")]

    def test_that_adds_a_flow_forgotten_when_it_was_heard_again_counts_from_then(self):
        plant = Plant()
        finding = plant.leak(10)
        wrong = plant.take(level_db=44.0, taken_at=NOW + DAY)

        plant.take(m3_per_h=16.0, corrects_id=wrong.reading.pk, taken_at=NOW + 3 * DAY)

        assert chain(finding)[-1] == (NOW + DAY, None, 16.0, "changed", "")

    def test_that_adds_a_flow_to_a_reading_with_later_ones_changes_nothing(self):
        plant = Plant()
        finding = plant.leak(10)
        wrong = plant.take(level_db=44.0, taken_at=NOW + DAY)
        plant.take(m3_per_h=12.0, taken_at=NOW + 2 * DAY)

        plant.take(m3_per_h=16.0, corrects_id=wrong.reading.pk, taken_at=NOW + DAY)

        assert [row[2] for row in chain(finding)] == [10.0, 12.0]

    def test_that_adds_a_flow_forgotten_before_the_repair_counts_until_the_repair(self):
        plant = Plant()
        wrong = plant.take(level_db=44.0)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=wrong.finding.pk, repaired_at=NOW + DAY)

        plant.take(m3_per_h=16.0, corrects_id=wrong.reading.pk)

        assert chain(wrong.finding) == [(NOW, NOW + DAY, 16.0, "corrected", "repaired")]

    def test_of_a_correction_replaces_again(self):
        plant = Plant()
        wrong = plant.take(m3_per_h=10.0)
        still_wrong = plant.take(m3_per_h=6.0, corrects_id=wrong.reading.pk)

        plant.take(m3_per_h=7.0, corrects_id=still_wrong.reading.pk)

        assert chain(wrong.finding) == [(NOW, None, 7.0, "corrected", "")]

    def test_of_another_kind_or_point_is_refused(self):
        plant = Plant()
        wrong = plant.take(m3_per_h=10.0)

        with pytest.raises(Refusal) as refused:
            plant.take(plant.another_point(), m3_per_h=6.0, corrects_id=wrong.reading.pk)

        assert refused.value.errors[0].code == "correction_of_another"

    def test_without_a_flow_cannot_replace_one(self):
        plant = Plant()
        wrong = plant.take(m3_per_h=10.0)

        with pytest.raises(Refusal) as refused:
            plant.take(level_db=40.0, corrects_id=wrong.reading.pk)

        assert refused.value.code == "correction_without_flow"

    def test_is_made_once(self):
        plant = Plant()
        wrong = plant.take(m3_per_h=10.0)
        plant.take(m3_per_h=6.0, corrects_id=wrong.reading.pk)

        with pytest.raises(Refusal) as refused:
            plant.take(m3_per_h=5.0, corrects_id=wrong.reading.pk)

        assert refused.value.code == "reading_corrected_already"

    def test_updates_what_the_finding_shows(self):
        plant = Plant()
        wrong = plant.take(m3_per_h=10.0, level_db=40.0)

        corrected = plant.take(m3_per_h=6.0, level_db=35.0, corrects_id=wrong.reading.pk)

        assert corrected.finding.level_db == 35.0
        assert float(corrected.finding.leak_rate_m3_per_s) * 3600 == pytest.approx(6.0, rel=1e-6)


def _closed(plant: Plant) -> Finding:
    finding = plant.leak(10)
    actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)
    quiet = plant.take(kind="", taken_at=NOW + 2 * DAY)
    return actions.close_by_reading(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=quiet.reading.pk)
