"""What taking a reading by contact probe does: it is judged at once, and its judgement counts."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from findings.conditions.models import Condition
from findings.kinds.wear_condition import recomputed
from findings.logbook.models import Entry
from findings.register.actions import judge_again
from findings.register.models import Evidence, Finding
from tests.findings.conditions.bearings import ACTOR, BEGAN, NOW, Bearing

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def codes(condition: Condition) -> set[str]:
    return {reason["code"] for reason in condition.reasons}


class TestAQuietReading:
    def test_that_is_quiet_is_judged_and_finds_nothing(self):
        taken = Bearing().good().listen(24.0)

        assert (taken.outcome, taken.finding) == ("quiet", None)
        assert (taken.condition.state, taken.condition.order_due) == ("no_step_reached", False)

    def test_that_the_ladder_contradicts_opens_a_finding(self):
        taken = Bearing().good().listen(32.0)

        assert (taken.outcome, taken.finding.kind) == ("found", "mechanical_wear")
        assert (taken.finding.condition_id, taken.finding.condition_severity) == (taken.condition.pk, 2)
        assert "quiet_contradicted" in codes(taken.condition)

    def test_that_only_the_limit_contradicts_opens_one_too(self):
        taken = Bearing().good().listen(28.0)

        assert taken.finding is not None
        assert "limit_passed" in codes(taken.condition)

    def test_says_in_the_logbook_that_it_was_contradicted(self):
        reading = Bearing().good().listen(32.0).reading

        entry = Entry.objects.get(act="reading.taken", subject_id=reading.pk)
        assert (entry.detail["contradicts_quiet"], entry.detail["outcome"]) == (True, "found")
        assert Entry.objects.filter(act="finding.condition_judged").count() == 1

    def test_that_is_louder_again_asks_for_an_order(self):
        bearing = Bearing().good()
        bearing.listen(32.0)

        taken = bearing.listen(32.5, at=NOW + DAY)

        assert (taken.outcome, taken.condition.order_due) == ("heard_again", True)
        assert Finding.objects.get().condition_id == taken.condition.pk

    def test_that_is_back_lets_the_finding_stand_with_its_word(self):
        bearing = Bearing().good()
        finding = bearing.listen(32.0).finding

        taken = bearing.listen(23.5, at=NOW + DAY)

        finding.refresh_from_db()
        assert (finding.status, finding.condition_id) == ("open", taken.condition.pk)
        assert "alarm_not_confirmed" in codes(taken.condition)

    def test_through_the_air_is_not_judged(self):
        assert Bearing().good().listen(32.0, attachment="open_horn").condition is None

    def test_while_grease_goes_in_is_not_judged(self):
        assert Bearing().good().listen(32.0, greasing="during").condition is None

    def test_without_a_baseline_says_so_and_finds_nothing(self):
        taken = Bearing().listen(40.0)

        assert taken.finding is None
        assert (taken.condition.state, taken.condition.order_due) == ("not_determined", None)
        assert "good_state_not_confirmed" in codes(taken.condition)

    def test_that_is_sent_again_gets_the_same_answer(self):
        bearing = Bearing().good()
        item = bearing.item(32.0)

        first, again = bearing.take(item)[0], bearing.take(item)[0]

        assert (again.created, again.condition) == (False, first.condition)


class TestAReadingThatNamesWear:
    def test_gets_its_condition(self):
        finding = Bearing().good().worn(41.0)

        assert (finding.condition_severity, finding.condition.state) == (4, "work_order_due")

    def test_keeps_its_finding_though_the_level_is_quiet(self):
        finding = Bearing().good().worn(23.4)

        assert (finding.status, finding.condition.order_due) == ("open", None)


class TestItsInputs:
    def test_compute_the_same_once_more(self):
        condition = Bearing().good().listen(32.0).condition

        again = recomputed(Condition.objects.get(pk=condition.pk).inputs)

        assert (again.state, again.severity) == (condition.state, condition.severity)
        assert again.figures == condition.figures


class TestABatch:
    def test_is_judged_in_its_own_order(self):
        bearing = Bearing().good()

        late, early = bearing.take(bearing.item(33.0, at=NOW + DAY), bearing.item(32.0))

        assert (early.condition.order_due, late.condition.order_due) == (False, True)

    def test_builds_a_baseline_on_the_way(self):
        bearing = Bearing()
        bearing.confirm()
        items = [bearing.item(23.0 + n / 10, at=BEGAN + n * DAY) for n in range(7)]

        taken = bearing.take(*items)

        assert [one.condition.state for one in taken[5:]] == ["not_determined", "no_step_reached"]

    def test_asks_no_more_questions_for_more_quiet_readings(self):
        site = Bearing().site
        bearings = [Bearing(site).good() for _ in range(2)]

        def asked(count: int, day: int) -> int:
            bearing = bearings[count > 2]
            items = [bearing.item(23.5, at=NOW + day * DAY + n * DAY) for n in range(count)]
            with CaptureQueriesContext(
                connection,
            ) as queries:
                bearing.take(*items)
            return sum("SELECT" in query["sql"] for query in queries.captured_queries)

        few, many = asked(2, 1), asked(12, 1)

        # Each reading looks for a wish to visit its point; judging adds no question of its own.
        assert many - few <= 10


class TestACorrection:
    def test_is_judged_in_place_of_what_was_wrong(self):
        bearing = Bearing().good()
        wrong = bearing.listen(42.0)

        taken = bearing.listen(24.0, corrects_id=wrong.reading.pk)

        finding = Finding.objects.get()
        assert finding.condition_id == taken.condition.pk
        assert taken.condition.state == "no_step_reached"

    def test_opens_the_finding_that_the_slip_had_hidden(self):
        bearing = Bearing().good()
        wrong = bearing.listen(24.2)

        taken = bearing.listen(42.0, corrects_id=wrong.reading.pk)

        assert taken.finding.condition_severity == 4

    def test_of_a_baseline_reading_has_the_newest_judged_again(self):
        bearing = Bearing()
        bearing.confirm()
        items = [bearing.item(29.0, at=BEGAN + n * DAY) for n in range(6)]
        first = bearing.take(*items)[0].reading
        newest = bearing.listen(31.0)
        assert newest.condition.state == "no_step_reached"

        bearing.listen(20.0, at=first.taken_at, corrects_id=first.pk)

        again = Condition.objects.filter(reading=newest.reading).order_by("-recorded_at", "-id").first()
        assert again.pk != newest.condition.pk
        assert again.figures["baseline"]["mean_db"] == pytest.approx(27.5)

    def test_no_longer_counts_in_any_baseline(self):
        bearing = Bearing().good()
        wrong = bearing.listen(24.0)
        bearing.listen(24.1, corrects_id=wrong.reading.pk)

        inputs = bearing.listen(24.0, at=NOW + DAY).condition.inputs

        assert str(wrong.reading.pk) not in inputs["series_reading_ids"]


class TestJudgingAgain:
    def test_uses_a_good_state_that_was_confirmed_afterwards(self):
        bearing = Bearing()
        for n in range(6):
            bearing.listen(23.0, at=BEGAN + n * DAY)
        assert bearing.listen(40.0).finding is None
        bearing.confirm()

        condition = judge_again(actor=ACTOR, at=NOW, point_id=bearing.point.pk)

        finding = Finding.objects.get()
        assert (condition.severity, finding.condition_id) == (4, condition.pk)

    def test_writes_one_entry_where_nothing_is_found(self):
        bearing = Bearing().good()
        bearing.listen(24.0)

        judge_again(actor=ACTOR, at=NOW, point_id=bearing.point.pk)

        assert Entry.objects.filter(act="condition.judged_again").count() == 1

    def test_adds_a_reading_to_a_finding_once(self):
        bearing = Bearing().good()
        bearing.listen(32.0)

        judge_again(actor=ACTOR, at=NOW, point_id=bearing.point.pk)

        assert Evidence.objects.count() == 1
