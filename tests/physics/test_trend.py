"""Trends of levels and the day a threshold is reached."""

import math

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import assume, given
from hypothesis import strategies as st

from findings.physics.trend import HORIZON_SPANS, crossing, fit, level_trend
from findings.physics.wear_baseline import Setting, WearReading

# Invented readings of a conveyor's drive bearing; expected figures computed with numpy and scipy.
DAYS = (0, 30, 61, 91, 122, 152, 183, 213)
RISING = (24.1, 24.6, 25.9, 26.2, 27.8, 28.1, 29.6, 30.2)
LEVEL = (24.1, 23.6, 24.3, 23.9, 24.0, 24.2, 23.8, 24.1)
HAND = Setting("detector 3", "rod 100 mm", "held by hand")
SERIES = st.lists(
    st.tuples(st.integers(0, 700), st.floats(-20, 90)),
    min_size=5,
    max_size=20,
    unique_by=lambda pair: pair[0],
)


def codes(estimate):
    return {reason.code for reason in estimate.reasons}


def line_of(days, levels):
    return sm.OLS(levels, sm.add_constant(np.asarray(days, float))).fit()


class TestFit:
    def test_of_a_rising_level(self):
        trend = fit(DAYS, RISING)

        assert (trend.slope.value, trend.residual_sd_db) == pytest.approx((0.0296603, 0.2944627), abs=5e-8)

    @given(SERIES)
    def test_agrees_with_statsmodels(self, series):
        days, levels = zip(*series, strict=True)
        judge = line_of(days, levels)
        assume(judge.ssr > 1e-6)

        trend = fit(days, levels)

        assert (trend.slope.value, trend.slope.u, trend.p_value) == pytest.approx(
            (judge.params[1], judge.bse[1], judge.pvalues[1]), rel=1e-6, abs=1e-9
        )
        assert (trend.slope.low, trend.slope.high) == pytest.approx(tuple(judge.conf_int()[1]), abs=1e-7)

    @given(SERIES, st.randoms())
    def test_does_not_mind_the_order(self, series, random):
        shuffled = list(series)
        random.shuffle(shuffled)

        assert fit(*zip(*shuffled, strict=True)) == fit(*zip(*series, strict=True))

    def test_flags_readings_that_stand_apart(self):
        levels = [20.0 + 0.02 * day for day in range(0, 300, 30)]

        assert "outliers" in codes(fit(range(0, 300, 30), [*levels[:-1], 80.0]).slope)

    def test_flags_readings_too_good_to_be_true(self):
        assert "scatter_too_small" in codes(fit(DAYS, [20.0 + 0.1 * day for day in DAYS]).slope)

    @pytest.mark.parametrize(
        ("days", "levels", "code"),
        [
            (DAYS[:4], RISING[:4], "too_few_readings"),
            ((0, 0, 0, 30, 60, 90), RISING[:6], "too_few_readings"),
            ((), (), "too_few_readings"),
            (DAYS, (*RISING[:-1], math.nan), "not_finite"),
            (DAYS, (*RISING[:-1], 1e9), "level_out_of_range"),
            ((*DAYS[:-1], 1e9), RISING, "level_out_of_range"),
            (DAYS, RISING[:-1], "readings_unfit"),
            (range(600), range(600), "readings_unfit"),
            ([0.1 * day for day in range(5)], RISING[:5], "span_too_short"),
        ],
    )
    def test_is_refused(self, days, levels, code):
        trend = fit(days, levels)

        assert (trend.slope.value, codes(trend.slope)) == (None, {code})


class TestCrossing:
    @pytest.mark.parametrize(
        ("threshold", "single", "expected"),
        [
            (35.4, False, (387.599, 355.761, 428.073)),
            (35.4, True, (387.599, 348.254, 435.579)),
            (31.4, False, (252.739, 234.776, 275.195)),
        ],
    )
    def test_gives_the_day_with_its_interval(self, threshold, single, expected):
        date = crossing(fit(DAYS, RISING), threshold, single=single)

        assert (date.value, date.low, date.high) == pytest.approx(expected, abs=1e-3)

    @pytest.mark.parametrize("single", [False, True])
    def test_ends_where_the_band_of_statsmodels_meets_the_threshold(self, single):
        date = crossing(fit(DAYS, RISING), 35.4, single=single)

        bands = line_of(DAYS, RISING).get_prediction([[1.0, date.low], [1.0, date.high]])

        (_, upper), (lower, _) = bands.conf_int(obs=single)
        assert (upper, lower) == pytest.approx((35.4, 35.4), abs=1e-8)

    def test_has_no_date_without_a_trend(self):
        trend = fit(DAYS, LEVEL)

        assert trend.p_value == pytest.approx(0.807, abs=5e-4)
        assert (crossing(trend, 32.0).value, codes(crossing(trend, 32.0))) == (None, {"no_trend"})

    def test_has_no_date_for_a_falling_level(self):
        assert codes(crossing(fit(DAYS, RISING[::-1]), 35.4)) == {"no_trend"}

    @pytest.mark.parametrize(
        ("threshold", "code"),
        [
            (30.0, "threshold_reached"),
            (10.0, "threshold_reached"),
            (30.2, "threshold_reached"),
            (90.0, "beyond_horizon"),
            (math.nan, "threshold_out_of_range"),
            (math.inf, "threshold_out_of_range"),
        ],
    )
    def test_has_no_date(self, threshold, code):
        date = crossing(fit(DAYS, RISING), threshold)

        assert (date.value, codes(date)) == (None, {code})

    def test_of_a_refused_trend_says_why(self):
        assert codes(crossing(fit(DAYS[:4], RISING[:4]), 35.4)) == {"too_few_readings"}

    def test_says_that_the_threshold_may_be_reached(self):
        assert "may_be_reached" in codes(crossing(fit(DAYS, RISING), 30.6))

    def test_says_that_its_end_lies_beyond_the_horizon(self):
        noisy = [level + shift for level, shift in zip(RISING, (1, -1, 1, -1, 1, -1, 1, -1), strict=True)]

        assert "end_beyond_horizon" in codes(crossing(fit(DAYS, noisy), 36.0))

    @given(SERIES, st.floats(-50, 150), st.booleans())
    def test_is_a_date_ahead_within_the_horizon_or_refused(self, series, threshold, single):
        trend = fit(*zip(*series, strict=True))

        date = crossing(trend, threshold, single=single)

        if date.value is not None:
            reach = trend.last_day + HORIZON_SPANS * (trend.last_day - trend.first_day)
            assert trend.last_day <= date.value <= reach
            assert trend.upward

    def test_holds_the_true_day_as_often_as_it_says(self):
        rng = np.random.default_rng(17)
        days = np.array(DAYS, float)
        noise = rng.normal(scale=0.5, size=(1500, days.size))
        dates = [crossing(fit(DAYS, (24.0 + 0.03 * days + row).tolist()), 36.0) for row in noise]
        held = [date.low <= 400.0 <= date.high for date in dates if date.value is not None]

        assert len(held) > 1450
        assert sum(held) / len(held) == pytest.approx(0.95, abs=0.015)


class TestLevelTrend:
    def taken(self, levels=RISING, **changes):
        return [WearReading(level, HAND, 25.0)._replace(**changes) for level in levels]

    def test_starts_anew_after_a_repair(self):
        days, readings = (*DAYS, *(day + 300 for day in DAYS)), self.taken() + self.taken(LEVEL)

        assert (
            level_trend(days, readings, since_day=300.0).slope.value
            == fit([day + 300 for day in DAYS], LEVEL).slope.value
        )

    def test_never_mixes_probes(self):
        mixed = [*self.taken(RISING[:4]), *self.taken(RISING[4:], setting=HAND._replace(probe="magnet"))]

        assert codes(level_trend(DAYS, mixed).slope) == {"settings_mixed"}

    def test_of_nothing_is_refused(self):
        assert codes(level_trend(DAYS, self.taken(), since_day=1000.0).slope) == {"too_few_readings"}
