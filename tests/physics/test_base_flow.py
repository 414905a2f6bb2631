"""Leak flow from a meter's quiet hours."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.base_flow import Meter, base_by_quantile, base_by_window, base_flow
from findings.physics.uncertainty import Uncertain

ANY = st.floats(allow_nan=True, allow_infinity=True)


def night(source, *, base=0.05, noise=0.01, users=True, minutes=480):
    """Return readings of a base flow with noise; a user of a fifth more runs now and then."""
    return [
        base * (source.gauss(1.0, noise) + (0.2 if users and (minute // 37) % 3 == 0 else 0.0))
        for minute in range(minutes)
    ]


def codes(estimate):
    return {reason.code for reason in estimate.reasons}


class TestWindow:
    def test_reads_the_level_under_the_users(self):
        base = base_by_window(night(random.Random(1)), 15)

        assert base.value == pytest.approx(0.05, rel=0.005)

    def test_of_even_readings_is_exact(self):
        assert base_by_window([0.5] * 60, 10) == Uncertain(0.5, 0.0)

    def test_finds_none_where_nothing_is_steady(self):
        assert base_by_window([0.05, 0.08] * 30, 10) is None

    def test_of_few_windows_is_as_unsure_as_a_reading(self):
        readings = [0.05, 0.051, 0.049, 0.05, *([0.09, 0.02] * 10)]

        # Computed by hand: standard deviation of the first four.
        assert base_by_window(readings, 4).u == pytest.approx(0.001 * math.sqrt(2 / 3))

    def test_isnt_low_by_chance_and_holds_the_truth(self):
        # Simulated nights of 480 noisy readings; over 2000 of them 94.2 % held, mean error 0.003 %.
        source, held, errors = random.Random(3), 0, []
        for _ in range(150):
            base = base_by_window(night(source, users=False), 15)
            errors.append(base.value / 0.05 - 1)
            held += abs(base.value - 0.05) <= 1.96 * base.u
        assert (held / 150, sum(errors) / 150) == (
            pytest.approx(0.95, abs=0.05),
            pytest.approx(0.0, abs=5e-4),
        )


class TestQuantile:
    def test_is_the_ranked_reading(self):
        assert base_by_quantile([float(n) for n in range(100)], 0.05).value == 5.0

    def test_reads_low_in_noise(self):
        # A normal variable's 5 % quantile lies 1.645 standard deviations down.
        base = base_by_quantile(night(random.Random(2), users=False, minutes=5000), 0.05)

        assert base.value / 0.05 == pytest.approx(1 - 1.645 * 0.01, abs=2e-3)


class TestBaseFlow:
    READINGS = tuple(night(random.Random(4), users=False))

    def test_is_what_the_known_users_leave(self):
        estimate = base_flow(self.READINGS, window=15, users=Uncertain(0.02, 0.001))

        assert estimate.value == pytest.approx(0.03, rel=0.01)

    def test_is_no_surer_than_meter_and_users(self):
        estimate = base_flow(self.READINGS, window=15, users=Uncertain(0.02, 0.003), meter=Meter(0.02, 0.002))

        assert estimate.u == pytest.approx(math.hypot(0.003, 0.02 * 0.05, 0.002), rel=0.01)

    @pytest.mark.parametrize(
        ("more", "expected"),
        [({"window": 15}, {"assumes_users_known"}), ({}, {"assumes_users_known", "quantile_reads_low"})],
    )
    def test_says_what_it_rests_on(self, more, expected):
        assert codes(base_flow(self.READINGS, **more)) == expected

    @pytest.mark.parametrize(
        ("readings", "more", "code"),
        [
            ([0.05] * 19, {}, "too_few_readings"),
            ([0.05, 0.09] * 20, {"window": 10}, "no_steady_window"),
            ([0.05] * 40, {"users": Uncertain(0.05, 0.001)}, "users_take_it_all"),
            ([0.05] * 40, {"users": Uncertain(0.0499, 0.001)}, "users_take_it_all"),
            ([0.05] * 40, {"window": 2}, "window_out_of_range"),
            ([0.05] * 40, {"window": 41}, "window_out_of_range"),
            ([0.05] * 40, {"part": 1.0}, "part_out_of_range"),
            ([0.05] * 40 + [-0.1], {}, "below_zero"),
            ([0.05] * 40 + [2e4], {}, "flow_out_of_range"),
            ([0.05] * 40 + [math.nan], {}, "not_finite"),
        ],
    )
    def test_is_refused(self, readings, more, code):
        assert code in codes(base_flow(readings, **more))

    @given(st.lists(ANY, min_size=18, max_size=30), ANY, ANY, st.none() | st.integers(-1, 31))
    def test_of_any_numbers_is_a_value_or_a_refusal(self, readings, users, u, window):
        estimate = base_flow(readings, users=Uncertain(users, u), window=window)

        assert estimate.is_refused or estimate.value >= 0.0
