"""What a survey left unexplained, and the leaks that two passes missed."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics import uncertainty
from findings.physics.leak_balance import Leak, Verdict, balance, open_at, sum_of, two_pass
from findings.physics.uncertainty import Uncertain

ANY = st.floats(allow_nan=True, allow_infinity=True)
FLOWS = st.floats(min_value=0.0, max_value=1.0)
COUNTS = st.integers(min_value=1, max_value=2000)


def leaks(*flows, u=0.2, **more):
    return [Leak(Uncertain(flow, u * flow), **more) for flow in flows]


def codes(estimate):
    return {reason.code for reason in estimate.reasons}


class TestSum:
    def test_of_independent_leaks_adds_in_quadrature(self):
        # Computed by hand: 0.02 sqrt(4).
        assert sum_of(leaks(0.1, 0.1, 0.1, 0.1)).u == pytest.approx(0.04)

    def test_of_leaks_that_share_everything_adds_straight(self):
        assert sum_of(leaks(0.1, 0.1, 0.1, 0.1), 0.2).u == pytest.approx(0.08)

    @given(st.lists(FLOWS, min_size=2, max_size=6), st.floats(min_value=0.0, max_value=0.2))
    def test_agrees_with_a_full_correlation_matrix(self, flows, shared):
        # JCGM 100, 5.2.2: the correlation of two findings is the product of their shared parts.
        part = (shared / 0.2) ** 2
        pairs = {(i, j): part for j in range(len(flows)) for i in range(j)}
        full = uncertainty.combine([0.2 * flow for flow in flows], pairs)

        assert sum_of(leaks(*flows), shared).u == pytest.approx(full, rel=1e-9, abs=1e-15)

    def test_takes_a_leak_that_was_measured_by_itself_for_itself(self):
        mixed = [*leaks(0.1, 0.1), *leaks(0.1, u=0.02, shared_relative_u=0.0)]

        # Computed by hand: hypot(0.2 x 0.2, 0.002).
        assert sum_of(mixed, 0.2).u == pytest.approx(math.hypot(0.04, 0.002))


class TestBalance:
    def test_of_twice_what_was_found_leaves_half(self):
        drawn = balance(Uncertain(0.1, 0.005), leaks(0.01, 0.01, 0.01, 0.01, 0.01))

        assert (drawn.unexplained.value, drawn.share.value) == pytest.approx((0.05, 0.5))

    def test_keeps_both_uncertainties(self):
        drawn = balance(Uncertain(0.1, 0.003), leaks(0.02, u=0.2))

        assert drawn.unexplained.u == pytest.approx(0.005)

    def test_measures_the_difference_in_its_own_uncertainty(self):
        # A normal value 1.96 standard deviations out has a two-sided chance of 5 %.
        drawn = balance(Uncertain(0.05 + 1.959964 * 0.005, 0.005), leaks(0.05, u=0.0))

        assert (drawn.z, drawn.p) == pytest.approx((1.959964, 0.05), rel=1e-5)

    @pytest.mark.parametrize(
        ("total", "verdict", "code"),
        [
            (0.10, Verdict.UNEXPLAINED, "more_measured_than_found"),
            (0.051, Verdict.ACCOUNTED_FOR, "within_uncertainty"),
            (0.02, Verdict.OVER_EXPLAINED, "more_found_than_measured"),
        ],
    )
    def test_says_what_the_difference_means(self, total, verdict, code):
        drawn = balance(Uncertain(total, 0.005), leaks(0.05, u=0.05))

        assert (drawn.verdict, code in codes(drawn.unexplained)) == (verdict, True)

    def test_is_undecided_without_any_uncertainty(self):
        drawn = balance(Uncertain(0.1), leaks(0.05, u=0.0))

        assert (drawn.verdict, drawn.z, codes(drawn.unexplained)) == (
            Verdict.UNDECIDED,
            None,
            {"no_uncertainty"},
        )

    def test_names_findings_without_a_flow(self):
        drawn = balance(Uncertain(0.1, 0.01), leaks(0.05), without_flow=3)

        assert "findings_without_flow" in codes(drawn.unexplained)

    def test_may_come_out_below_zero(self):
        drawn = balance(Uncertain(0.02, 0.001), leaks(0.05))

        assert drawn.unexplained.value == pytest.approx(-0.03)

    def test_has_no_share_of_a_total_that_may_be_zero(self):
        drawn = balance(Uncertain(0.01, 0.009), leaks(0.005))

        assert (drawn.share.value, drawn.unexplained.value) == (None, pytest.approx(0.005))

    def test_share_has_fiellers_interval(self):
        # Computed in closed form for found 0.5 +/- 0.1 of 1 +/- 0.2, g = (1.96 x 0.2)^2.
        drawn = balance(Uncertain(1.0, 0.2), [Leak(Uncertain(0.5, 0.1))])

        g = (1.959964 * 0.2) ** 2
        half = 1.959964 * math.sqrt(0.01 * (1 - g) + 0.01)
        expected = (1 - (0.5 + half) / (1 - g), 1 - (0.5 - half) / (1 - g))
        assert (drawn.share.low, drawn.share.high) == pytest.approx(expected, rel=1e-6)

    @pytest.mark.parametrize(
        ("total", "found", "shared", "code"),
        [
            (Uncertain(-0.1, 0.01), leaks(0.05), 0.0, "below_zero"),
            (Uncertain(0.1, 0.01), leaks(-0.05, u=-0.1), 0.0, "below_zero"),
            (Uncertain(0.1, -0.01), leaks(0.05), 0.0, "uncertainty_negative"),
            (Uncertain(math.nan, 0.01), leaks(0.05), 0.0, "not_finite"),
            (Uncertain(0.1, 0.01), leaks(0.05, u=0.02), 0.1, "shared_part_too_large"),
            (Uncertain(0.1, 0.01), [], 1.5, "shared_part_too_large"),
            (Uncertain(2e4, 0.01), leaks(0.05), 0.0, "flow_out_of_range"),
        ],
    )
    def test_is_refused(self, total, found, shared, code):
        drawn = balance(total, found, shared_relative_u=shared)

        refusals = (drawn.explained, drawn.unexplained, drawn.share)
        assert all(part.is_refused and code in codes(part) for part in refusals)

    @given(ANY, ANY, st.lists(st.tuples(ANY, ANY), max_size=3), ANY)
    def test_of_any_numbers_is_drawn_or_refused(self, total, u, found, shared):
        drawn = balance(
            Uncertain(total, u), [Leak(Uncertain(*pair)) for pair in found], shared_relative_u=shared
        )

        assert drawn.unexplained.is_refused or drawn.unexplained.low <= drawn.unexplained.high

    def test_holds_the_truth_as_often_as_it_says(self):
        # Simulated: 20 leaks that share 15 % of one instrument, the rest by each; 95 % +/- four sigma.
        source, truth, held, rounds = random.Random(11), [0.001 * n for n in range(1, 21)], 0, 2000
        for _ in range(rounds):
            common = source.gauss(1.0, 0.15)
            heard = [flow * (common + source.gauss(0.0, 0.2)) for flow in truth]
            found = [Leak(Uncertain(max(flow, 0.0), 0.25 * max(flow, 0.0))) for flow in heard]
            total = source.gauss(sum(truth) + 0.05, 0.01)
            drawn = balance(Uncertain(total, 0.01), found, shared_relative_u=0.15)
            held += drawn.unexplained.low <= 0.05 <= drawn.unexplained.high

        assert held / rounds == pytest.approx(0.95, abs=0.02)


class TestOpenAt:
    def test_counts_a_leak_from_its_first_moment_to_before_its_last(self):
        both = leaks(0.1, since_s=10.0, until_s=20.0)

        assert [len(open_at(both, moment)) for moment in (9.9, 10.0, 19.9, 20.0)] == [0, 1, 1, 0]


class TestTwoPasses:
    def test_have_chapmans_estimate_and_variance(self):
        # Computed from Chapman's and Seber's formulas: 10, 15 and 5 in both give 28.33 and 34.92.
        passes = two_pass(10, 15, 5)

        assert (passes.there.value, passes.there.u**2) == pytest.approx((28.33, 34.92), abs=5e-3)

    def test_leave_what_neither_heard(self):
        passes = two_pass(10, 15, 5)

        assert passes.missed.value == pytest.approx(passes.there.value - 20)

    def test_tell_how_much_each_heard(self):
        passes = two_pass(10, 15, 5)

        assert (passes.first_found, passes.second_found) == pytest.approx((5 / 15, 5 / 10))

    @given(COUNTS, COUNTS, st.data())
    def test_never_say_fewer_than_were_heard(self, first, second, data):
        both = data.draw(st.integers(min_value=0, max_value=min(first, second)))

        passes = two_pass(first, second, both)

        assert first + second - both <= passes.there.low <= passes.there.value <= passes.there.high

    def test_say_what_they_assume(self):
        assert "assumes_independent_passes" in codes(two_pass(10, 15, 5).there)

    def test_without_a_leak_in_both_say_that_it_is_a_low_guess(self):
        passes = two_pass(5, 5, 0)

        assert (passes.there.value, "none_in_both" in codes(passes.there)) == (35.0, True)

    def test_that_agree_wholly_prove_nothing(self):
        # Ten of ten twice: with one more leak there the chance of it is 1/11, with two 1/66.
        passes = two_pass(10, 10, 10)

        assert (passes.missed.value, passes.missed.high) == (0.0, 1.0)

    def test_of_one_leak_heard_among_five_bound_little(self):
        # One of five: five of 200 is a chance of 2.5 %.
        assert two_pass(5, 1, 1).missed.high == 195.0

    @pytest.mark.parametrize(
        ("counts", "code"),
        [
            ((3, 5, 4), "more_in_both_than_heard"),
            ((-1, 5, 0), "count_out_of_range"),
            ((5, 5, -1), "count_out_of_range"),
            ((10**7, 5, 1), "count_out_of_range"),
            ((0, 5, 0), "a_pass_heard_nothing"),
        ],
    )
    def test_are_refused(self, counts, code):
        assert codes(two_pass(*counts).missed) == {code}

    def test_hold_the_truth_about_as_often_as_they_say(self):
        # Simulated: 60 leaks, heard with chances of 0.7 and 0.6; the log-based interval is a little wide.
        source, held, rounds = random.Random(5), 0, 2000
        for _ in range(rounds):
            heard = [(source.random() < 0.7, source.random() < 0.6) for _ in range(60)]
            first, second = (sum(pair[n] for pair in heard) for n in (0, 1))
            passes = two_pass(first, second, sum(map(all, heard)))
            held += passes.there.low <= 60 <= passes.there.high

        assert held / rounds == pytest.approx(0.95, abs=0.03)
