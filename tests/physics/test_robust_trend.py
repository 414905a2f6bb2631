"""The slope of all pairs and Kendall's tau, judged by scipy."""

from itertools import combinations, permutations
from statistics import pvariance

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from findings.physics.robust_trend import _score_variance, robust_trend

PLACES = st.lists(
    st.tuples(st.integers(0, 400), st.integers(100, 600).map(lambda tenths: tenths / 10.0)),
    min_size=5,
    max_size=30,
).filter(lambda points: len({x for x, _ in points}) > 1)


class TestRobustTrend:
    @given(PLACES)
    def test_agrees_with_scipy_on_different_days(self, points):
        x, y = zip(*{day: (day, level) for day, level in points}.values(), strict=True)
        expected = stats.theilslopes(y, x)

        found = robust_trend(x, y)

        assert (found.slope, found.low, found.high) == pytest.approx(
            (expected.slope, expected.low_slope, expected.high_slope), abs=1e-12
        )

    @given(PLACES.filter(lambda points: len({y for _, y in points}) > 1))
    def test_gives_the_tau_of_scipy(self, points):
        x, y = zip(*points, strict=True)

        assert robust_trend(x, y).tau == pytest.approx(stats.kendalltau(x, y).statistic, abs=1e-12)

    @pytest.mark.parametrize(
        ("x", "y"), [((1, 1, 2, 3, 4, 4), (5, 5, 5, 6, 7, 7)), ((1, 1, 1, 2, 2, 2), (5, 5, 6, 6, 6, 7))]
    )
    def test_scores_ties_as_all_orders_do(self, x, y):
        scores = [
            sum(
                ((x2 > x1) - (x2 < x1)) * ((y2 > y1) - (y2 < y1))
                for (x1, y1), (x2, y2) in combinations(zip(x, order, strict=True), 2)
            )
            for order in permutations(y)
        ]

        assert _score_variance(x, y) == pytest.approx(pvariance(scores))

    def test_is_not_turned_by_one_wild_reading(self):
        days = list(range(0, 300, 30))

        assert robust_trend(days, [20.0 + 0.02 * day for day in days[:-1]] + [80.0]).slope == pytest.approx(
            0.02, rel=1e-9
        )

    def test_has_no_tau_of_equal_levels(self):
        assert robust_trend([0, 1, 2], [5.0, 5.0, 5.0]).tau is None

    def test_wants_two_places(self):
        with pytest.raises(ValueError, match="two different"):
            robust_trend([1, 1], [2.0, 3.0])
