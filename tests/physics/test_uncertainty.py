"""Propagation by the Guide, its coverage factors and its supplement's draws."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics import uncertainty
from findings.physics.uncertainty import Uncertain

# JCGM 100:2008 H.1, end gauge: l = ls + d - ls (da theta + as dt), in nm; values from memory of the table.
STANDARD = Uncertain(50_000_623.0, 25.0)
DIFFERENCE = Uncertain(215.0, math.sqrt(5.8**2 + 3.9**2 + 6.7**2))
EXPANSION_DIFFERENCE = Uncertain(0.0, 0.58e-6)
TEMPERATURE = Uncertain(-0.1, 0.41)
EXPANSION = Uncertain(11.5e-6, 1.2e-6)
TEMPERATURE_DIFFERENCE = Uncertain(0.0, 0.029)
END_GAUGE = [STANDARD, DIFFERENCE, EXPANSION_DIFFERENCE, TEMPERATURE, EXPANSION, TEMPERATURE_DIFFERENCE]


def length_nm(standard, difference, expansion_difference, temperature, expansion, temperature_difference):
    return (
        standard
        + difference
        - standard * (expansion_difference * temperature + expansion * temperature_difference)
    )


class TestEndGauge:
    def test_has_the_published_length(self):
        assert uncertainty.propagate(length_nm, END_GAUGE).value == 50_000_838.0

    def test_has_the_published_uncertainty(self):
        assert uncertainty.propagate(length_nm, END_GAUGE).u == pytest.approx(32.0, rel=0.0125)

    def test_has_the_published_degrees_of_freedom(self):
        terms, degrees = (25.0, 5.8, 3.9, 6.7, 2.9, 16.6), (18, 24, 5, 8, 50, 2)

        assert int(uncertainty.effective_degrees_of_freedom(terms, degrees)) == 16

    def test_has_the_published_expanded_uncertainty(self):
        # U99 = 2.92 x 32 nm = 93 nm.
        assert uncertainty.coverage_factor(16, 0.99) * 32 == pytest.approx(93, abs=0.6)


class TestCoverageFactor:
    # JCGM 100:2008 table G.2, from memory: degrees, level, t.
    @pytest.mark.parametrize(
        ("degrees", "level", "expected"),
        [
            (1, 0.95, 12.71),
            (2, 0.95, 4.30),
            (5, 0.95, 2.57),
            (10, 0.95, 2.23),
            (16, 0.99, 2.92),
            (20, 0.90, 1.72),
            (50, 0.99, 2.68),
            (math.inf, 0.95, 1.960),
        ],
    )
    def test_is_students(self, degrees, level, expected):
        assert uncertainty.coverage_factor(degrees, level) == pytest.approx(expected, abs=0.0051)

    def test_tends_to_the_normal_one(self):
        assert uncertainty.coverage_factor(999_999) == pytest.approx(uncertainty.COVERAGE_95, abs=1e-5)

    @pytest.mark.parametrize(("degrees", "level"), [(0.5, 0.95), (math.nan, 0.95), (5, 1.0), (5, 0.0)])
    def test_refuses(self, degrees, level):
        with pytest.raises(ValueError, match="degrees of freedom"):
            uncertainty.coverage_factor(degrees, level)


class TestPropagate:
    def test_agrees_with_the_product_rule(self):
        inputs = [Uncertain(3.0, 0.03), Uncertain(2.0, 0.04)]

        spread = uncertainty.propagate(lambda a, b: a**2 * math.sqrt(b), inputs)

        expected = uncertainty.relative_of_powers([(2.0, 0.01), (0.5, 0.02)])
        assert spread.u / spread.value == pytest.approx(expected, rel=1e-7)

    def test_takes_correlation_into_account(self):
        inputs = [Uncertain(5.0, 0.1), Uncertain(3.0, 0.1)]

        spread = uncertainty.propagate(lambda a, b: a - b, inputs, {(0, 1): 1.0})

        assert spread.u == pytest.approx(0.0, abs=1e-8)

    @pytest.mark.parametrize("correlation", [{(1, 0): 0.5}, {(0, 1): 1.5}])
    def test_refuses_a_wrong_correlation(self, correlation):
        with pytest.raises(ValueError, match="correlation"):
            uncertainty.combine([1.0, 1.0], correlation)

    @given(st.floats(min_value=0.1, max_value=100), st.floats(min_value=0, max_value=10))
    def test_of_a_straight_model_is_exact(self, value, u):
        spread = uncertainty.propagate(lambda x: 3.0 * x - 1.0, [Uncertain(value, u)])

        assert spread.u == pytest.approx(3.0 * u, rel=1e-7, abs=1e-9)


class TestDistributions:
    def test_rectangular_is_the_half_width_over_root_three(self):
        # The coefficient of a hole between sharp and rounded, 0.61 to 0.97.
        assert uncertainty.rectangular(0.18) == pytest.approx(0.104, abs=5e-4)

    def test_triangular_is_the_half_width_over_root_six(self):
        assert uncertainty.triangular(6.0) == pytest.approx(math.sqrt(6.0))

    def test_interval_of_a_flow_does_not_run_backwards(self):
        assert uncertainty.interval(1.0, 2.0, floor=0.0).low == 0.0


class TestMonteCarlo:
    def test_repeats_itself(self):
        def draw(source: random.Random) -> float:
            return source.gauss(0, 1)

        first = uncertainty.monte_carlo(draw, draws=1000, seed=7)

        assert uncertainty.monte_carlo(draw, draws=1000, seed=7) == first

    # JCGM 101:2008, 9.2.2 to 9.2.4: sums of four inputs; half widths of the 95 % interval, those of the
    # rectangular ones from memory and recomputed from the exact density of their sum.
    @pytest.mark.parametrize(
        ("name", "halves", "first_order", "half"),
        [
            ("normal", (1.0, 1.0, 1.0, 1.0), 3.92, 3.92),
            ("rectangular", (1.0, 1.0, 1.0, 1.0), 3.92, 3.88),
            ("rectangular", (1.0, 1.0, 1.0, 10.0), 19.9, 17.0),
        ],
    )
    def test_meets_the_published_sums(self, name, halves, first_order, half):
        def draw(source: random.Random) -> float:
            if name == "normal":
                return sum(source.gauss(0.0, u) for u in halves)
            return sum(source.uniform(-1.0, 1.0) * u * math.sqrt(3.0) for u in halves)

        _, bounds = uncertainty.monte_carlo(draw, draws=100_000, seed=101)
        spread = uncertainty.propagate(lambda *x: sum(x), [Uncertain(0.0, u) for u in halves])

        assert (bounds.high - bounds.low) / 2 == pytest.approx(half, rel=0.01)
        assert spread.u * uncertainty.COVERAGE_95 == pytest.approx(first_order, rel=0.005)

    def test_of_a_leaks_yearly_cost(self):
        # Computed by JCGM 101 with 1e6 draws: 1.6 +/- 0.1 mm at 7 +/- 0.1 bar gauge, coefficient 0.61 to
        # 0.97, 6.5 +/- 0.3 kW/(m3/min), 8000 +/- 200 h, 0.3 to 1.0 of it saved, 0.15 a kWh: mean 772, u 37 %,
        # 95 % from 330 to 1380.
        def draw(source: random.Random) -> float:
            area = math.pi / 4 * source.gauss(0.0016, 0.0001) ** 2
            root = math.sqrt(source.gauss(293.15, 3.0))
            choked = 0.040415 * source.uniform(0.61, 0.97) * area * source.gauss(801325.0, 1e4) / root
            power = choked / 1.1884 * 60 * source.gauss(6.5, 0.3) * source.uniform(0.3, 1.0)
            return power * source.gauss(8000.0, 200.0) * 0.15

        cost, bounds = uncertainty.monte_carlo(draw, draws=100_000, seed=3)

        assert (cost.value, cost.relative) == (pytest.approx(772, rel=0.005), pytest.approx(0.37, abs=0.005))
        assert tuple(bounds) == pytest.approx((330, 1380), rel=0.02)
