"""Flammable limits, oxygen limits and screening sums."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from findings.physics import safety


class TestFlammableLimit:
    @pytest.mark.parametrize(("gas", "lower"), [("methane", 0.044), ("propane", 0.017), ("hydrogen", 0.04)])
    def test_for_screening_is_the_lowest_published(self, gas, lower):
        # IEC 60079-20-1, from memory.
        assert safety.lowest_flammable_limit(gas).lower == lower

    @pytest.mark.parametrize(("gas", "lower", "upper"), [("methane", 0.05, 0.15), ("propane", 0.021, 0.095)])
    def test_of_the_bureau_of_mines_is_kept(self, gas, lower, upper):
        # US Bureau of Mines Bulletin 627.
        assert safety.FLAMMABLE_LIMITS[gas][0][:2] == (lower, upper)

    def test_is_shared_out_in_parts(self):
        assert safety.part_of_limit(0.005, 0.05) == pytest.approx(0.1)

    def test_of_methane_as_a_density(self):
        # Computed from the ideal gas law: 4.4 % at 1 atm and 20 °C.
        density = safety.limit_as_density_kg_per_m3(
            0.044, 0.0160425, pressure_pa=101325.0, temperature_k=293.15
        )

        assert density == pytest.approx(0.02934, abs=5e-5)


class TestOxygen:
    # 29 CFR 1910.146(b): hazardous below 19.5 % and above 23.5 %.
    @pytest.mark.parametrize(
        ("fraction", "state"),
        [(0.194, "deficient"), (0.195, "normal"), (0.209, "normal"), (0.235, "normal"), (0.236, "enriched")],
    )
    def test_has_two_limits(self, fraction, state):
        assert safety.oxygen_state(fraction) == state

    @given(st.floats(min_value=1e-3, max_value=10), st.floats(min_value=1e-6, max_value=1))
    def test_falls_beside_an_inert_leak(self, air, leak):
        assert safety.oxygen_fraction(air, leak) < safety.OXYGEN_IN_AIR

    @pytest.mark.parametrize("own", [False, True])
    def test_meets_the_balance_worked_out_step_by_step(self, own):
        def change(_, x):
            return (0.209 * 0.1 + (0.01 if own else 0.0) - 0.11 * x) / 50.0

        solved = solve_ivp(change, (0, 600.0), [0.209], rtol=1e-10, atol=1e-14)

        fraction = safety.oxygen_after(0.1, 0.01, volume_m3=50.0, time_s=600.0, oxygen_released=own)
        assert fraction == pytest.approx(solved.y[0][-1], rel=1e-6)

    @given(st.floats(min_value=1e-3, max_value=10), st.floats(min_value=1e-6, max_value=1))
    def test_rises_beside_an_oxygen_leak(self, air, leak):
        assert safety.oxygen_fraction(air, leak, oxygen_released=True) > safety.OXYGEN_IN_AIR


class TestRoom:
    def test_tends_to_release_over_fresh_air(self):
        concentration = safety.room_concentration(0.001, 0.1, volume_m3=100.0, time_s=1e6)

        assert concentration == pytest.approx(0.01)

    @pytest.mark.parametrize("time_s", [10.0, 1000.0, 100000.0])
    def test_meets_the_balance_worked_out_step_by_step(self, time_s):
        solved = solve_ivp(
            lambda _, c: (0.001 - 0.5 * 0.1 * c) / 100.0, (0, time_s), [0.0], rtol=1e-10, atol=1e-14
        )

        concentration = safety.room_concentration(0.001, 0.1, volume_m3=100.0, time_s=time_s, mixing=0.5)

        assert concentration == pytest.approx(solved.y[0][-1], rel=1e-6)

    def test_without_fresh_air_fills_evenly(self):
        assert safety.room_concentration(0.001, 0.0, volume_m3=100.0, time_s=1000.0) == pytest.approx(0.01)

    @given(st.floats(min_value=0.05, max_value=1.0))
    def test_mixed_poorly_never_comes_out_lower(self, mixing):
        well, poor = (
            safety.room_concentration(0.001, 0.1, volume_m3=100.0, time_s=5000.0, mixing=part)
            for part in (1.0, mixing)
        )

        assert poor >= well

    def test_rises_at_first_by_release_over_volume(self):
        concentration = safety.room_concentration(0.001, 0.1, volume_m3=100.0, time_s=1.0)

        assert concentration == pytest.approx(0.001 / 100.0, rel=1e-3)

    def test_needs_less_air_for_a_secondary_release(self):
        primary, secondary = (
            safety.least_fresh_air_m3_per_s(1e-4, 0.03, factor=factor, temperature_k=293.0)
            for factor in (safety.PRIMARY_RELEASE_FACTOR, safety.SECONDARY_RELEASE_FACTOR)
        )

        assert (primary, math.isclose(primary, 2 * secondary)) == (pytest.approx(0.013333, abs=1e-6), True)
