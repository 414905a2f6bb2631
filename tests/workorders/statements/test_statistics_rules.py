"""Survival, shares, two passes, totals' widths and the frozen week, against published figures."""

import math
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.workorders.statements.histories import PRAGUE, Leak, on
from workorders.statements.rules import (
    KnownFinding,
    PlannedJob,
    Watched,
    chapman,
    kaplan_meier,
    log_rank,
    percentile,
    poisson_limits,
    reconcile,
    releak_cases,
    releaks_of,
    scale_width,
    schedule_compliance,
    share_of_counts,
    width_of_sum,
    wilson,
)


def cases(text: str) -> list[Watched]:
    """Read times as the textbooks print them; a plus sign is a case still open."""
    return [Watched(float(item.rstrip("+")), not item.endswith("+")) for item in text.split()]


# Freireich et al., Blood 21 (1963) 699: weeks of remission, printed in many textbooks.
TREATED = cases("6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+")
PLACEBO = cases("1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23")


class TestKaplanMeier:
    @pytest.mark.parametrize(
        ("week", "survival"),
        [(6, 0.857), (7, 0.807), (10, 0.753), (13, 0.690), (16, 0.627), (22, 0.538), (23, 0.448)],
    )
    def test_remission_curve_as_published(self, week: float, survival: float) -> None:
        assert kaplan_meier(TREATED).survival_at(week) == pytest.approx(survival, abs=5e-4)

    def test_remission_median_with_its_interval(self) -> None:
        curve = kaplan_meier(TREATED)

        assert (curve.median, curve.median_interval) == (23, (13, None))

    def test_placebo_median_with_its_interval(self) -> None:
        curve = kaplan_meier(PLACEBO)

        assert (curve.median, curve.median_interval) == (8, (4, 11))

    def test_remission_restricted_mean(self) -> None:
        assert kaplan_meier(TREATED).restricted_mean(35) == pytest.approx(23.2874, abs=5e-5)

    def test_median_never_reached_is_none(self) -> None:
        assert kaplan_meier(cases("5 9+ 9+")).median is None

    def test_no_case_leaves_everything_open(self) -> None:
        assert kaplan_meier([]).survival_at(100) == 1

    def test_late_entries_are_not_at_risk_before(self) -> None:
        curve = kaplan_meier([Watched(5, True), Watched(20, True, entry=10)])

        assert [point.at_risk for point in curve.points] == [1, 1]

    @given(st.lists(st.tuples(st.integers(0, 60), st.booleans()), min_size=1, max_size=40))
    def test_without_open_cases_it_is_the_plain_share(self, raw: list[tuple[int, bool]]) -> None:
        times = [time for time, _ in raw]
        curve = kaplan_meier([Watched(time, True) for time in times])

        for time in times:
            assert curve.survival_at(time) == pytest.approx(sum(item > time for item in times) / len(times))

    @given(st.lists(st.tuples(st.integers(0, 60), st.booleans()), max_size=40))
    def test_never_rises_and_stays_inside_its_limits(self, raw: list[tuple[int, bool]]) -> None:
        points = kaplan_meier([Watched(time, event) for time, event in raw]).points

        assert [point.survival for point in points] == sorted(
            (point.survival for point in points), reverse=True
        )
        assert all(point.low - 1e-12 <= point.survival for point in points)
        assert all(point.high is None or point.survival <= point.high + 1e-12 for point in points)

    @pytest.mark.parametrize(("duration", "entry"), [(-1, 0), (5, 6), (math.inf, 0), (math.nan, 0)])
    def test_refuses_a_case_that_makes_no_sense(self, duration: float, entry: float) -> None:
        with pytest.raises(ValueError, match="watched"):
            Watched(duration, True, entry)


class TestLogRank:
    def test_remission_as_published(self) -> None:
        found = log_rank(TREATED, PLACEBO)

        assert found is not None
        assert found.chi_square == pytest.approx(16.793, abs=5e-4)
        assert found.p == pytest.approx(4.17e-5, rel=0.01)

    def test_says_nothing_of_nothing(self) -> None:
        assert log_rank(cases("5+"), cases("6+")) is None

    def test_a_group_does_not_differ_from_itself(self) -> None:
        found = log_rank(TREATED, TREATED)

        assert found is not None
        assert found.chi_square == pytest.approx(0, abs=1e-20)


class TestShares:
    def test_wilson(self) -> None:
        assert wilson(4, 11) == pytest.approx((0.1517, 0.6462), abs=5e-5)

    @given(st.integers(1, 500).flatmap(lambda whole: st.tuples(st.integers(0, whole), st.just(whole))))
    def test_wilson_holds_the_share(self, pair: tuple[int, int]) -> None:
        low, high = wilson(*pair)

        assert 0 <= low <= pair[0] / pair[1] + 1e-12
        assert pair[0] / pair[1] - 1e-12 <= high <= 1

    def test_nothing_to_divide_by_is_none(self) -> None:
        assert share_of_counts(0, 0).value is None

    @pytest.mark.parametrize(("part", "whole"), [(5, 4), (-1, 4), (0, 0)])
    def test_wilson_refuses_what_is_no_share(self, part: int, whole: int) -> None:
        with pytest.raises(ValueError, match="no share"):
            wilson(part, whole)

    # Standard tables of exact Poisson limits (Garwood 1936), from memory.
    @pytest.mark.parametrize(
        ("events", "low", "high"), [(0, 0.0, 3.689), (10, 4.795, 18.390), (2, 0.2422, 7.2247)]
    )
    def test_exact_poisson_limits(self, events: int, low: float, high: float) -> None:
        assert poisson_limits(events) == pytest.approx((low, high), abs=5e-4)

    def test_percentile_lies_between_the_ordered_values(self) -> None:
        assert percentile([90, 10, 30], 0.9) == pytest.approx(78)


class TestTwoPasses:
    def test_missed_with_limits(self) -> None:
        found = chapman(24, 21, 18)

        assert (found.total, found.seen) == pytest.approx((27.947, 27), abs=5e-4)
        assert (found.low, found.high) == pytest.approx((27.14, 33.25), abs=5e-3)

    def test_the_usual_classroom_figure(self) -> None:
        """10 and 15 caught, 5 of them twice: from memory."""
        assert chapman(10, 15, 5).total == pytest.approx(28.33, abs=5e-3)

    def test_everything_heard_twice_leaves_nothing_missed(self) -> None:
        found = chapman(12, 12, 12)

        assert (found.total, found.low, found.high) == (12, 12, 12)

    def test_refuses_counts_that_contradict_each_other(self) -> None:
        with pytest.raises(ValueError, match="both passes"):
            chapman(3, 9, 4)


class TestReleaks:
    """Five verified repairs; two leak again after 70 and 160 days, three are watched for 30, 60 and 323."""

    FOUND = releaks_of(cases("70 160 30+ 60+ 323+"))

    def test_shares(self) -> None:
        assert (self.FOUND.by_90_days, self.FOUND.by_180_days) == pytest.approx((1 / 3, 2 / 3))

    def test_beyond_the_longest_watch_nothing_is_said(self) -> None:
        assert self.FOUND.by_365_days is None

    def test_rate_with_its_limits(self) -> None:
        assert self.FOUND.per_100_point_years == pytest.approx(113.6, abs=0.05)
        assert (self.FOUND.low, self.FOUND.high) == pytest.approx((13.8, 410.4), abs=0.05)

    def test_case_from_a_history(self) -> None:
        leak = Leak("1", 5, on(1)).repaired(on(6)).passed(on(7)).reopened(5, on(21))

        assert releak_cases(KnownFinding(leak.history, on(1, 7)), on(1, 7)) == [Watched(15, True)]


class TestWidthOfSum:
    """Leaks of 4, 6, 10, 10 and 20 m³/h, each 30 % of its own and 15 % shared."""

    FLOW = width_of_sum([(flow, 0.3 * flow) for flow in (4, 6, 10, 10, 20)], shared=0.15)

    def test_keeps_what_is_shared(self) -> None:
        assert (self.FLOW.value, self.FLOW.half_width) == pytest.approx((50, 21.44), abs=5e-3)

    def test_without_the_shared_part_it_would_look_narrower(self) -> None:
        alone = width_of_sum([(flow, 0.3 * flow) for flow in (4, 6, 10, 10, 20)], shared=0)

        assert alone.half_width == pytest.approx(15.32, abs=5e-3)

    def test_money_adds_the_energy_in_quadrature(self) -> None:
        money = scale_width(self.FLOW, 8000 * 0.12 * 0.15, relative=0.05)

        assert (money.value, money.half_width) == pytest.approx((7200, 3170), abs=0.5)

    def test_says_when_it_is_mostly_one_shared_error(self) -> None:
        many = width_of_sum([(1.0, 0.3)] * 100, shared=0.15)

        assert many.shared_part == pytest.approx(0.96, abs=0.005)


class TestReconcile:
    def test_room_against_survey(self) -> None:
        """600 m³/h loaded 6 of 30 minutes against 70 m³/h; the uncertainties are this test's own."""
        found = reconcile(
            capacity_m3_per_s=600 / 3600,
            loaded_s=360,
            total_s=1800,
            survey_m3_per_s=70 / 3600,
            u_room_m3_per_s=6 / 3600,
            u_survey_m3_per_s=15.2 / 3600,
        )

        assert (found.room_m3_per_s * 3600, found.residual_m3_per_s * 3600) == pytest.approx((120, 50))
        assert found.z == pytest.approx(3.06, abs=5e-3)
        assert not found.holds


class TestScheduleCompliance:
    """Three jobs frozen for one June week, one done a day late; one break-in."""

    JOBS = (
        PlannedJob("1", date(2025, 6, 10), on(11), Decimal(2)),
        PlannedJob("2", date(2025, 6, 10), on(12), Decimal(2)),
        PlannedJob("3", date(2025, 6, 10), on(16), Decimal(4)),
        PlannedJob("4", date(2025, 6, 10), on(12), Decimal(3), break_in=True),
    )

    def found(self, *jobs: PlannedJob, as_of_day: int = 30) -> tuple[float | None, float | None]:
        result = schedule_compliance(jobs, date(2025, 6, 1), PRAGUE, on(as_of_day))
        return result.by_count.value, result.by_hours.value

    def test_by_count_and_by_hours(self) -> None:
        assert self.found(*self.JOBS) == pytest.approx((2 / 3, 0.5))

    def test_break_ins_and_missed_are_told(self) -> None:
        result = schedule_compliance(self.JOBS, date(2025, 6, 1), PRAGUE, on(30))

        assert (result.break_ins, result.missed) == (1, ("3",))

    def test_early_is_not_as_scheduled(self) -> None:
        assert self.found(PlannedJob("1", date(2025, 6, 10), on(8), Decimal(1))) == (0, 0)

    def test_a_week_belongs_to_the_month_of_its_sunday(self) -> None:
        assert self.found(PlannedJob("1", date(2025, 5, 28), on(28, 5), Decimal(1))) == (1, 1)

    def test_a_week_still_running_is_not_judged(self) -> None:
        assert self.found(*self.JOBS, as_of_day=15) == (None, None)
