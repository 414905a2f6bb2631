"""Charts as numbers: scales, bars, lines."""

import itertools

import pytest

from workorders.desk.rules.charts import (
    BOTTOM,
    HEIGHT,
    TOP,
    Series,
    height_of,
    month_chart,
    share_of,
    tick_step,
    ticks_to,
)

FOOT = HEIGHT - BOTTOM


class TestTicks:
    @pytest.mark.parametrize(
        ("highest", "expected"),
        [
            (0.0, (0.0, 1.0)),
            (3.0, (0.0, 1.0, 2.0, 3.0)),
            (41.0, (0.0, 10.0, 20.0, 30.0, 40.0, 50.0)),
            (1240.0, (0.0, 250.0, 500.0, 750.0, 1000.0, 1250.0)),
        ],
    )
    def test_are_round_and_reach_the_highest(self, highest: float, expected: tuple[float, ...]) -> None:
        assert ticks_to(highest) == expected

    @pytest.mark.parametrize("highest", [0.37, 1.0, 7.0, 99.0, 100.0, 101.0, 4_321.0, 9.9e8])
    def test_are_few_and_never_below_the_highest(self, highest: float) -> None:
        marks = ticks_to(highest)

        assert marks[-1] >= highest
        assert len(marks) <= 6

    def test_of_small_counts_are_whole(self) -> None:
        assert tick_step(2.0) == 1.0

    @pytest.mark.parametrize("odd", [float("nan"), float("inf"), -5.0])
    def test_bear_what_is_no_height(self, odd: float) -> None:
        assert tick_step(odd) == 1.0


class TestHeight:
    @pytest.mark.parametrize(
        ("value", "y"), [(0.0, FOOT), (10.0, TOP), (5.0, (FOOT + TOP) / 2), (99.0, TOP), (-1.0, FOOT)]
    )
    def test_runs_from_the_foot_to_the_top_and_stays_inside(self, value: float, y: float) -> None:
        assert height_of(value, 10.0) == pytest.approx(y)

    def test_of_anything_is_the_foot_where_nothing_is_high(self) -> None:
        assert height_of(3.0, 0.0) == FOOT


class TestMonthChart:
    MONTHS = ("Jan 2026", "Feb 2026")

    def test_draws_one_bar_for_each_known_value_above_zero(self) -> None:
        chart = month_chart(
            self.MONTHS, [Series("a", "found", [2.0, None]), Series("b", "closed", [0.0, 1.0])]
        )

        assert [(bar.series, bar.text) for bar in chart.bars] == [
            ("a", "Jan 2026: found 2"),
            ("b", "Feb 2026: closed 1"),
        ]

    def test_keeps_bars_of_a_month_apart(self) -> None:
        chart = month_chart(
            self.MONTHS, [Series("a", "found", [2.0, 2.0]), Series("b", "closed", [1.0, 1.0])]
        )

        edges = [(bar.x, bar.x + bar.width) for bar in chart.bars]
        assert all(end <= start for (_, end), (start, _) in itertools.pairwise(edges))

    def test_lifts_the_pen_over_a_gap(self) -> None:
        line = Series("open", "open", [1.0, None, 2.0])
        chart = month_chart(("Jan 2026", "Feb 2026", "Mar 2026"), [], line)

        assert chart.line.count("M") == 2
        assert "L" not in chart.line

    def test_names_the_unit_in_what_a_bar_says(self) -> None:
        chart = month_chart(("Jan 2026",), [Series("accrued", "leak cost", [1234.0])], unit="EUR")

        assert chart.bars[0].text == "Jan 2026: leak cost 1\u202f234 EUR"

    def test_refuses_a_series_of_another_length(self) -> None:
        with pytest.raises(ValueError, match="one value for each month"):
            month_chart(self.MONTHS, [Series("a", "found", [1.0])])

    def test_draws_nothing_but_the_foot_for_no_values(self) -> None:
        chart = month_chart(self.MONTHS, [Series("a", "found", [None, None])])

        assert chart.bars == ()
        assert [tick.value for tick in chart.ticks] == [0.0, 1.0]


class TestStrip:
    @pytest.mark.parametrize(
        ("value", "highest", "length"), [(5, 10, 75.0), (10, 10, 150.0), (0, 10, 0.0), (3, 0, 0.0)]
    )
    def test_is_as_long_as_its_share(self, value: float, highest: float, length: float) -> None:
        assert share_of(value, highest, 150.0) == length
