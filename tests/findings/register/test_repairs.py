"""A repair is reported, rejected or proven; a finding closes by a reason or opens again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from findings.logbook.models import Entry
from findings.losses.queries import last_repaired
from findings.register import actions
from findings.register.models import Finding
from plantcare.api.problems import Refusal
from tests.findings.chain import ACTOR, LATER, M3_PER_H, Plant, chain
from tests.makers import NOW

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
REASON = "the line was cut off and blinded"


def june(day: int) -> datetime:
    """Return a day of June 2026."""
    return datetime(2026, 6, day, tzinfo=UTC)


def repaired(plant: Plant, *, found_at: datetime = NOW, repaired_at: datetime = NOW + DAY) -> Finding:
    """Return a leak of 10 m3/h that was reported repaired."""
    finding = plant.leak(10, taken_at=found_at)
    return actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=repaired_at)


class TestAReportedRepair:
    def test_ends_the_loss_provisionally(self):
        finding = repaired(Plant())

        assert chain(finding) == [(NOW, NOW + DAY, 10.0, "found", "repaired")]
        assert last_repaired(finding.pk).end_confirmed_at is None

    def test_before_a_change_of_the_leak_supersedes_the_change(self):
        plant = Plant()
        finding = plant.leak(10)
        plant.take(m3_per_h=16.0, taken_at=NOW + 2 * DAY)

        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)

        assert chain(finding) == [(NOW, NOW + DAY, 10.0, "found", "repaired")]

    def test_before_the_finding_was_found_is_refused(self):
        finding = Plant().leak(10)

        with pytest.raises(actions.MomentOutOfBounds):
            actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW - DAY)

    def test_in_the_future_is_refused(self):
        finding = Plant().leak(10)

        with pytest.raises(actions.MomentOutOfBounds):
            actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=LATER + DAY)

    def test_twice_is_refused(self):
        finding = repaired(Plant())

        with pytest.raises(actions.StatusChangeNotAllowed):
            actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)

    def test_from_an_older_version_is_refused(self):
        plant = Plant()
        finding = plant.leak(10)
        plant.take(level_db=40.0, taken_at=NOW + DAY)

        with pytest.raises(Refusal) as refused:
            actions.report_repaired(
                actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY, version=finding.version
            )

        assert refused.value.status == 412

    def test_writes_exactly_one_entry(self):
        finding = Plant().leak(10)
        before = Entry.objects.count()

        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=finding.pk, repaired_at=NOW + DAY)

        assert Entry.objects.count() == before + 1


class TestARejectedRepair:
    def test_runs_on_from_the_repair_at_the_rate_that_was_measured(self):
        plant = Plant()
        finding = repaired(plant)
        after = plant.take(m3_per_h=9.0, taken_at=NOW + 3 * DAY)

        actions.reject_repair(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=after.reading.pk)

        assert chain(finding)[-1] == (NOW + DAY, None, 9.0, "repair_failed", "")

    def test_runs_on_at_the_old_rate_where_nothing_was_measured(self):
        plant = Plant()
        finding = repaired(plant)
        after = plant.take(level_db=40.0, taken_at=NOW + 3 * DAY)

        actions.reject_repair(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=after.reading.pk)

        assert chain(finding)[-1] == (NOW + DAY, None, 10.0, "repair_failed", "")

    def test_that_helped_in_part_keeps_the_residual_from_the_repair_on(self):
        # 10 m3/h, repaired on 11 June, on 13 June a residual of 4.
        plant = Plant()
        finding = repaired(plant, found_at=june(1), repaired_at=june(11))
        after = plant.take(level_db=30.0, taken_at=june(13))

        actions.reject_repair(
            actor=ACTOR,
            at=LATER,
            finding_id=finding.pk,
            reading_id=after.reading.pk,
            residual=4 * M3_PER_H,
            partial=True,
        )

        assert chain(finding) == [
            (june(1), june(11), 10.0, "found", "repaired"),
            (june(11), None, 4.0, "partly_repaired", ""),
        ]
        assert last_repaired(finding.pk).end_confirmed_at == LATER

    def test_that_failed_confirms_no_saving(self):
        plant = Plant()
        finding = repaired(plant)
        after = plant.take(level_db=40.0, taken_at=NOW + 3 * DAY)

        actions.reject_repair(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=after.reading.pk)

        assert last_repaired(finding.pk).end_confirmed_at is None

    def test_refuses_a_reading_from_before_the_repair(self):
        plant = Plant()
        first = plant.take(m3_per_h=10.0)
        actions.report_repaired(actor=ACTOR, at=LATER, finding_id=first.finding.pk, repaired_at=NOW + DAY)

        with pytest.raises(actions.ClosingReadingNotAfterRepair):
            actions.reject_repair(
                actor=ACTOR, at=LATER, finding_id=first.finding.pk, reading_id=first.reading.pk
            )

    @pytest.mark.parametrize("residual", ["NaN", "Infinity", "-1", "1e30"])
    def test_refuses_a_residual_that_is_no_flow(self, residual):
        plant = Plant()
        finding = repaired(plant)
        after = plant.take(level_db=40.0, taken_at=NOW + 3 * DAY)

        with pytest.raises(actions.ResidualOutOfRange):
            actions.reject_repair(
                actor=ACTOR,
                at=LATER,
                finding_id=finding.pk,
                reading_id=after.reading.pk,
                residual=Decimal(residual),
            )


class TestAProof:
    def test_by_a_reading_after_the_repair_closes_and_confirms_the_end(self):
        plant = Plant()
        finding = repaired(plant)
        quiet = plant.take(kind="", taken_at=NOW + 2 * DAY)

        closed = actions.close_by_reading(
            actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=quiet.reading.pk
        )

        assert (closed.status, closed.closing_reading_id) == ("closed", quiet.reading.pk)
        assert last_repaired(finding.pk).end_confirmed_at == LATER

    def test_by_a_reading_of_another_point_is_refused(self):
        plant = Plant()
        finding = repaired(plant)
        elsewhere = plant.take(plant.another_point(), kind="", taken_at=NOW + 2 * DAY)

        with pytest.raises(actions.ReadingUnknown):
            actions.close_by_reading(
                actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=elsewhere.reading.pk
            )

    def test_before_any_repair_is_refused(self):
        plant = Plant()
        first = plant.take(m3_per_h=10.0)

        with pytest.raises(actions.StatusChangeNotAllowed):
            actions.close_by_reading(
                actor=ACTOR, at=LATER, finding_id=first.finding.pk, reading_id=first.reading.pk
            )


class TestAClosureByReason:
    def test_of_a_decommissioned_asset_ends_the_loss_then_and_claims_no_saving(self):
        # 10 m3/h from 1 June, out of service on 16 June.
        plant = Plant()
        finding = plant.leak(10, taken_at=june(1))

        actions.close_by_reason(
            actor=ACTOR,
            at=LATER,
            finding_id=finding.pk,
            closure_reason="asset_decommissioned",
            closure_text="the wrapper went to the scrapyard",
            ended_at=june(16),
        )

        assert chain(finding) == [(june(1), june(16), 10.0, "found", "decommissioned")]

    def test_of_an_isolated_branch_after_a_repair_claims_no_saving_either(self):
        finding = repaired(Plant())

        actions.close_by_reason(
            actor=ACTOR,
            at=LATER,
            finding_id=finding.pk,
            closure_reason="branch_isolated",
            closure_text=REASON,
        )

        assert chain(finding) == [(NOW, NOW + DAY, 10.0, "found", "isolated")]

    def test_verified_by_other_means_confirms_the_repair(self):
        finding = repaired(Plant())

        actions.close_by_reason(
            actor=ACTOR,
            at=LATER,
            finding_id=finding.pk,
            closure_reason="verified_by_other_means",
            closure_text="pressure held for a weekend",
        )

        assert last_repaired(finding.pk).end_confirmed_at == LATER

    def test_without_words_is_refused(self):
        finding = Plant().leak(10)

        with pytest.raises(Refusal) as refused:
            actions.close_by_reason(
                actor=ACTOR,
                at=LATER,
                finding_id=finding.pk,
                closure_reason="branch_isolated",
                closure_text="   gone   ",
            )

        assert refused.value.code == "reason_not_written"


class TestAReopening:
    def test_by_hand_needs_a_reading_from_after_the_end(self):
        plant = Plant()
        finding = plant.leak(10)
        first = plant.take(level_db=40.0, taken_at=NOW + DAY)
        actions.close_by_reason(
            actor=ACTOR,
            at=NOW + 5 * DAY,
            finding_id=finding.pk,
            closure_reason="branch_isolated",
            closure_text=REASON,
        )

        with pytest.raises(actions.ReadingUnknown):
            actions.reopen(actor=ACTOR, at=LATER, finding_id=finding.pk, reading_id=first.reading.pk)
