"""Counts, rates, checks, ages and times of a month."""

from datetime import date

import pytest

from tests.workorders.statements.histories import AIR, PRAGUE, Leak, on, per_hour, prices
from workorders.statements.rules import (
    Aged,
    EventKind,
    KnownFinding,
    LossFact,
    MonthFigures,
    Watched,
    backlog_age,
    cohort_share,
    month_figures,
    repair_case,
    time_to_repair,
)

JUNE, END_OF_JUNE = date(2025, 6, 1), on(1, 7)


def month_of(*leaks: Leak) -> MonthFigures:
    return month_figures([leak.history for leak in leaks], prices(), JUNE, PRAGUE, END_OF_JUNE)


def closed(leak: Leak, day: int, month: int = 6) -> Leak:
    return leak.repaired(on(day, month)).passed(on(day, month, 12))


class TestLedger:
    """a open since April; b closed 4 June; c found, closed and leaking again in June; d a false alarm;
    e out of service; f repaired and not checked; g closed in April. All 5 m³/h."""

    FIGURES = month_of(
        Leak("a", 5, on(10, 4)),
        closed(Leak("b", 5, on(10, 5)), 4),
        closed(Leak("c", 5, on(5)), 10).reopened(5, on(25)),
        Leak("d", 5, on(6)).void(on(8), EventKind.DISMISSED),
        Leak("e", 5, on(7)).removed(on(15)),
        Leak("f", 5, on(8)).repaired(on(20)),
        closed(Leak("g", 5, on(1, 4)), 20, 4),
    )

    def test_balances(self) -> None:
        total = self.FIGURES.total

        assert [total.open_start, total.found, total.reopened] == [2, 3, 1]
        assert [total.closed, total.removed, total.open_end] == [2, 1, 3]

    def test_shows_apart_what_waits_for_its_check(self) -> None:
        assert self.FIGURES.open_end_by_state == {"deferred": 0, "open": 2, "repaired": 1}

    @pytest.mark.parametrize(
        ("rate", "part", "whole"),
        [("throughput", 1, 3), ("clearance", 1, 5), ("ever", 2, 6)],
    )
    def test_rates_by_count(self, rate: str, part: int, whole: int) -> None:
        share = getattr(self.FIGURES.rates, rate)

        assert (share.part, share.whole) == (part, whole)

    @pytest.mark.parametrize("rate", ["by_flow", "by_cost"])
    def test_rates_by_amount(self, rate: str) -> None:
        assert getattr(self.FIGURES.rates, rate).value == pytest.approx(1 / 5, abs=1e-12)

    def test_the_cohort_is_not_told_before_its_time(self) -> None:
        assert self.FIGURES.rates.cohort is None

    def test_every_figure_opens_to_its_findings(self) -> None:
        base = [line.finding_id for line in self.FIGURES.lines if line.in_rate_base]
        cleared = [line.finding_id for line in self.FIGURES.lines if line.cleared]

        assert (base, cleared) == (["a", "b", "c", "e", "f"], ["b"])


class TestEightFiveFour:
    """Eight open at the start, five found of which one merged and one dismissed, four closed."""

    FIGURES = month_of(
        *(closed(Leak(f"old{number}", 5, on(10, 5)), 10) for number in range(4)),
        *(Leak(f"still{number}", 5, on(10, 5)) for number in range(4)),
        *(Leak(f"new{number}", 5, on(3)) for number in range(3)),
        Leak("merged", 5, on(3)).void(on(4), EventKind.MERGED),
        Leak("dismissed", 5, on(3)).void(on(4), EventKind.DISMISSED),
    )

    def test_ledger(self) -> None:
        total = self.FIGURES.total

        assert [total.open_start, total.found, total.closed, total.open_end] == [8, 3, 4, 7]

    def test_repair_rate_with_its_interval(self) -> None:
        share = self.FIGURES.rates.clearance

        assert share.value == pytest.approx(4 / 11)
        assert (share.low, share.high) == pytest.approx((0.152, 0.646), abs=5e-4)


class TestMonthEdge:
    def test_an_event_at_the_very_edge_belongs_to_the_later_month(self) -> None:
        assert month_of(Leak("1", 5, on(1, 7))).total.found == 0

    def test_the_first_instant_belongs_to_the_month(self) -> None:
        assert month_of(Leak("1", 5, on(1))).total.found == 1

    def test_a_failed_check_counts_as_repair_and_as_rejected_never_as_closed(self) -> None:
        total = month_of(Leak("1", 5, on(1)).repaired(on(5)).failed(5, on(9))).total

        assert [total.repaired, total.repairs_rejected, total.closed, total.open_end] == [1, 1, 0, 1]

    def test_may_close_twice(self) -> None:
        leak = closed(closed(Leak("1", 5, on(1)), 3).reopened(5, on(10)), 20)

        total = month_of(leak).total

        assert [total.closed, total.reopened, total.open_end] == [2, 1, 0]

    def test_a_dismissal_taken_back_is_as_if_it_had_never_been(self) -> None:
        leak = (
            Leak("1", 5, on(10, 5))
            .happened(EventKind.DISMISSED, on(20, 5))
            .happened(EventKind.REINSTATED, on(9))
        )

        total = month_of(leak).total

        assert [total.open_start, total.open_end] == [1, 1]

    def test_a_month_that_has_not_begun_is_refused(self) -> None:
        with pytest.raises(ValueError, match="not begun"):
            month_figures([], prices(), JUNE, PRAGUE, on(1))

    def test_an_empty_month_has_no_rates(self) -> None:
        found = month_of()

        assert [
            found.rates.clearance.value,
            found.verified_share.value,
            found.backlog.since_found.median,
        ] == [
            None,
            None,
            None,
        ]


class TestAreas:
    def test_add_up_to_the_site(self) -> None:
        found = month_of(
            Leak("1", 10, on(3), area="Dough"),
            closed(Leak("2", 4, on(1, 5), area="Wrapping"), 9),
            Leak("3", 7, on(12), area="Wrapping").repaired(on(20)),
        )

        for name in ("accrued", "avoided_verified", "avoided_claimed", "open_end", "found", "closed"):
            assert sum(getattr(area, name) for area in found.areas.values()) == getattr(found.total, name)


class TestChecks:
    """Five repairs in June: passed, failed and then passed, one overdue, one not yet due."""

    FIGURES = month_of(
        closed(Leak("1", 5, on(1)), 5),
        closed(Leak("2", 5, on(1)).repaired(on(4)).failed(5, on(8)), 15),
        Leak("3", 5, on(1)).repaired(on(6), check_due_at=on(20)),
        Leak("4", 5, on(1)).repaired(on(25), check_due_at=on(9, 7)),
    )

    def test_of_all_repairs(self) -> None:
        assert self.FIGURES.checks.of_repairs.value == pytest.approx(0.40)

    def test_of_those_known_or_overdue(self) -> None:
        assert self.FIGURES.checks.of_known_or_overdue.value == pytest.approx(0.50)

    def test_first_time_fix(self) -> None:
        assert self.FIGURES.checks.first_time_fix.value == pytest.approx(0.50)

    def test_overdue_to_do(self) -> None:
        assert self.FIGURES.checks.overdue == 1


class TestBacklogAge:
    FOUND = backlog_age(
        [
            Aged("1", 10, 10, flow_m3_per_s=4),
            Aged("2", 30, 30, flow_m3_per_s=12),
            Aged("3", 90, 90, deferred_days=60, flow_m3_per_s=2),
        ]
    )

    def test_since_found(self) -> None:
        assert (self.FOUND.since_found.median, self.FOUND.since_found.p90) == pytest.approx((30, 78))

    def test_weighted_by_flow(self) -> None:
        assert self.FOUND.flow_weighted_mean == pytest.approx(32.222, abs=5e-4)

    def test_less_deferral(self) -> None:
        assert self.FOUND.less_deferral.median == 30

    def test_from_histories(self) -> None:
        leak = (
            closed(Leak("1", 5, on(1, 5)), 1)
            .reopened(5, on(11))
            .happened(EventKind.DEFERRED, on(16))
            .happened(EventKind.DEFERRAL_ENDED, on(21))
        )

        ages = month_of(leak).backlog

        assert [ages.since_found.median, ages.since_reopened.median, ages.less_deferral.median] == [
            61,
            20,
            56,
        ]


class TestTimeToRepair:
    CASES = tuple(Watched(days, True) for days in (2, 4, 10, 10, 30)) + tuple(
        Watched(days, False) for days in (20, 41, 61)
    )

    def test_median_where_the_curve_touches_one_half(self) -> None:
        assert time_to_repair(self.CASES).median == 10

    def test_restricted_mean_names_its_limit(self) -> None:
        found = time_to_repair(self.CASES)

        assert (found.restricted_mean, found.restricted_to_days) == pytest.approx((28.25, 60))

    def test_by_thirty_days(self) -> None:
        assert cohort_share(self.CASES, 30) == pytest.approx(2 / 3)

    def test_the_mean_of_the_repaired_alone_flatters(self) -> None:
        assert time_to_repair(self.CASES).biased_mean_of_repaired == pytest.approx(11.2)

    def test_the_event_is_the_repair_and_not_its_check(self) -> None:
        case = repair_case(KnownFinding(closed(Leak("1", 5, on(1)), 11).history, END_OF_JUNE), END_OF_JUNE)

        assert case == Watched(10, True)

    def test_a_repair_nobody_checked_is_still_watched(self) -> None:
        known = KnownFinding(Leak("1", 5, on(1)).repaired(on(11)).history, END_OF_JUNE)

        assert repair_case(known, END_OF_JUNE) == Watched(30, False)

    def test_out_of_service_ends_the_watch(self) -> None:
        known = KnownFinding(Leak("1", 5, on(1)).removed(on(11)).history, END_OF_JUNE)

        assert repair_case(known, END_OF_JUNE) == Watched(10, False)

    def test_an_imported_one_enters_at_its_age(self) -> None:
        history = Leak("1", 5, on(1)).history
        imported = type(history)(
            history.finding_id, history.label, history.events, history.losses, watched_from=on(21)
        )

        assert repair_case(KnownFinding(imported, END_OF_JUNE), END_OF_JUNE) == Watched(30, False, 20)

    def test_the_cohort_is_told_after_thirty_days(self) -> None:
        leaks = [closed(Leak("1", 5, on(1)), 11), Leak("2", 5, on(2))]

        found = month_figures([leak.history for leak in leaks], prices(), JUNE, PRAGUE, on(31, 7))

        assert found.rates.cohort == pytest.approx(0.5)


class TestWidth:
    def test_is_given_when_every_loss_has_an_interval(self) -> None:
        leak = Leak("1", 10, on(11))
        leak.losses = [
            LossFact(AIR, per_hour(10), on(11), on(11), low_m3_per_s=per_hour(4), high_m3_per_s=per_hour(16))
        ]

        width = month_of(leak).accrued_width

        assert width is not None
        assert width.half_width == pytest.approx(2 * 86.40 * (0.3**2 + 0.15**2 + 0.05**2) ** 0.5, rel=1e-6)

    def test_is_none_when_one_has_not(self) -> None:
        assert month_of(Leak("1", 10, on(11))).accrued_width is None
