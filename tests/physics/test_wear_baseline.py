"""Baselines of measuring points and their statistical limit."""

import math
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from findings.physics.wear_baseline import Setting, WearReading, baseline, tolerance_factor

HAND = Setting("detector 3", "rod 100 mm", "held by hand")
# Invented readings of the dough mixer's motor bearing; mean and limits computed with scipy.
LEVELS = (23.1, 24.0, 22.4, 23.6, 24.3, 23.0, 22.9, 23.8)


def readings(levels=LEVELS, *, setting=HAND, speed_hz=25.0, load=None):
    return [WearReading(level, setting, speed_hz, load) for level in levels]


def of(taken, *, good=True, **options):
    return baseline(taken, good_state_confirmed=good, **options)


def codes(result):
    return {reason.code for reason in result.mean.reasons}


class TestToleranceFactor:
    @pytest.mark.parametrize(("count", "factor"), [(3, 7.656), (5, 4.203), (8, 3.187), (10, 2.911)])
    def test_gives_the_published_values(self, count, factor):
        # ISO 16269-6, one-sided, 95 % of the population at 95 % confidence, as open packages print it.
        assert tolerance_factor(count) == pytest.approx(factor, abs=5e-4)

    @pytest.mark.parametrize("count", [2, 3, 4, 6, 8, 13, 30, 75, 200])
    @pytest.mark.parametrize("share", [0.5, 0.9, 0.95, 0.99])
    @pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.99])
    def test_agrees_with_the_non_central_t_of_scipy(self, count, share, confidence):
        shift = stats.norm.ppf(share) * math.sqrt(count)
        expected = stats.nct.ppf(confidence, count - 1, shift) / math.sqrt(count)

        assert tolerance_factor(count, share=share, confidence=confidence) == pytest.approx(
            expected, rel=1e-9, abs=1e-9
        )

    def test_covers_as_often_as_it_says(self):
        rng = np.random.default_rng(20_250_311)
        samples = rng.normal(size=(20_000, 6))
        limits = samples.mean(axis=1) + tolerance_factor(6) * samples.std(axis=1, ddof=1)

        assert (limits > stats.norm.ppf(0.95)).mean() == pytest.approx(0.95, abs=0.006)

    @given(st.integers(2, 400))
    def test_falls_towards_the_quantile_with_more_readings(self, count):
        assert tolerance_factor(count) > tolerance_factor(count + 1) > statistics.NormalDist().inv_cdf(0.95)

    @pytest.mark.parametrize(
        ("count", "share", "confidence"),
        [(1, 0.95, 0.95), (10_001, 0.95, 0.95), (8, 1.0, 0.95), (8, 0.4, 0.95), (8, 0.95, math.nan)],
    )
    def test_refuses_what_has_no_factor(self, count, share, confidence):
        with pytest.raises(ValueError, match="tolerance factor"):
            tolerance_factor(count, share=share, confidence=confidence)


class TestBaseline:
    def test_of_eight_readings(self):
        result = of(readings())

        assert (result.mean.value, result.sd_db, result.factor) == pytest.approx(
            (23.3875, 0.640173, 3.187294), abs=1e-6
        )

    def test_gives_the_limit_with_the_scatter_as_it_is(self):
        assert of(readings()).plain_limit_db == pytest.approx(25.4279, abs=1e-4)

    def test_takes_at_least_one_decibel_of_scatter(self):
        result = of(readings())

        assert (result.limit_db, codes(result)) == (
            pytest.approx(23.3875 + 3.187294, abs=1e-5),
            {"scatter_floored", "load_not_recorded"},
        )

    def test_gives_robust_figures_beside(self):
        result = of(readings())

        assert (result.median_db, result.robust_sd_db) == pytest.approx(
            (np.median(LEVELS), stats.median_abs_deviation(LEVELS, scale="normal")), rel=1e-5
        )

    def test_has_the_interval_of_students_t(self):
        mean = of(readings()).mean

        assert (mean.low, mean.high) == pytest.approx(
            stats.t.interval(0.95, 7, loc=np.mean(LEVELS), scale=stats.sem(LEVELS))
        )

    def test_names_a_reading_that_stands_apart(self):
        result = of(readings((*LEVELS, 34.0)))

        assert "34.0" in next(reason.text for reason in result.mean.reasons if reason.code == "outlier")

    def test_keeps_what_later_readings_are_compared_with(self):
        result = of(readings(load=0.8))

        assert (result.setting, result.speed_hz, result.load) == (HAND, 25.0, 0.8)


class TestRefusals:
    @pytest.mark.parametrize(
        ("taken", "code"),
        [
            ([], "too_few_readings"),
            (readings(LEVELS[:5]), "too_few_readings"),
            ([*readings(), *readings((23.0,), setting=HAND._replace(probe="magnet"))], "settings_mixed"),
            ([*readings(), *readings((23.0,), setting=HAND._replace(contact="pressed"))], "settings_mixed"),
            ([*readings(), *readings((23.0,), speed_hz=28.0)], "speeds_mixed"),
            ([*readings(), *readings((23.0,), speed_hz=None)], "speed_unknown"),
            (readings(speed_hz=0.0), "speed_unknown"),
            ([*readings(load=0.9), *readings((23.0,), load=0.7)], "loads_mixed"),
            ([*readings(load=0.9), *readings((23.0,))], "loads_mixed"),
            (readings((*LEVELS, math.nan)), "not_finite"),
            (readings((*LEVELS, 1e200)), "level_out_of_range"),
        ],
    )
    def test_are_said(self, taken, code):
        result = of(taken)

        assert (result.mean.value, result.limit_db, codes(result)) == (None, None, {code})

    def test_ask_for_a_confirmed_good_state(self):
        assert codes(of(readings(), good=False)) == {"good_state_not_confirmed"}

    def test_come_all_at_once(self):
        taken = [*readings(LEVELS[:2]), *readings((23.0,), setting=HAND._replace(instrument="other"))]

        assert codes(of(taken, good=False)) == {
            "good_state_not_confirmed",
            "too_few_readings",
            "settings_mixed",
        }

    def test_spare_readings_ten_per_cent_apart_in_speed(self):
        assert not of([*readings(), *readings((23.0,), speed_hz=27.5)]).mean.is_refused


class TestProperties:
    @given(st.lists(st.floats(-20, 120), min_size=6, max_size=30), st.floats(-30, 30))
    def test_a_shift_of_the_scale_shifts_the_baseline(self, levels, shift):
        plain, moved = of(readings(levels)), of(readings([level + shift for level in levels]))

        assert (moved.mean.value, moved.limit_db) == pytest.approx(
            (plain.mean.value + shift, plain.limit_db + shift), abs=1e-6
        )

    @given(st.lists(st.floats(-20, 120), min_size=6, max_size=30))
    def test_the_limit_never_lies_below_a_decibel_of_scatter(self, levels):
        result = of(readings(levels))

        assert result.limit_db >= max(result.plain_limit_db, result.mean.value + result.factor) - 1e-9

    @given(
        st.lists(
            st.builds(
                WearReading,
                st.floats(),
                st.just(HAND),
                st.none() | st.floats(),
                st.none() | st.floats(),
            ),
            max_size=12,
        )
    )
    def test_anything_is_answered_or_refused(self, taken):
        result = of(taken)

        assert result.mean.is_refused == (result.limit_db is None)
