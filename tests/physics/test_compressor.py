"""Least work, specific energy and whole-system leakage."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics import compressor

BAR = 1e5
# Computed, closed formulas: kWh per m3 at 1 bar, 20 °C suction: gauge bar, isothermal, adiabatic.
LEAST_WORK = [(6, 0.05405, 0.07230), (7, 0.05776, 0.07889), (8, 0.06103, 0.08492), (10, 0.06661, 0.09567)]
# Computed: kW for 1 m3/min from 1 bar: bar absolute, isothermal, adiabatic, polytropic n 1.3, two stages.
POWERS = [(8, 3.466, 4.733, 4.448, 4.036), (9, 3.662, 5.095, 4.769, 4.302)]


class TestLeastWork:
    @pytest.mark.parametrize(("gauge_bar", "isothermal", "adiabatic"), LEAST_WORK)
    def test_is_the_isothermal_one(self, gauge_bar, isothermal, adiabatic):
        work = compressor.isothermal_work_j_per_m3(BAR, (gauge_bar + 1) * BAR)

        assert work / 3.6e6 == pytest.approx(isothermal, abs=6e-6)

    @pytest.mark.parametrize(("gauge_bar", "isothermal", "adiabatic"), LEAST_WORK)
    def test_is_larger_without_cooling(self, gauge_bar, isothermal, adiabatic):
        work = compressor.adiabatic_work_j_per_m3(BAR, (gauge_bar + 1) * BAR)

        assert work / 3.6e6 == pytest.approx(adiabatic, abs=6e-6)

    @pytest.mark.parametrize(("bar", "isothermal", "adiabatic", "polytropic", "two_stages"), POWERS)
    def test_gives_the_power_of_one_cubic_metre_a_minute(
        self, bar, isothermal, adiabatic, polytropic, two_stages
    ):
        outlet = bar * BAR
        works = (
            compressor.isothermal_work_j_per_m3(BAR, outlet),
            compressor.adiabatic_work_j_per_m3(BAR, outlet),
            compressor.adiabatic_work_j_per_m3(BAR, outlet, k=1.3),
            compressor.adiabatic_work_j_per_m3(BAR, outlet, stages=2),
        )

        assert [work / 60000 for work in works] == pytest.approx(
            [isothermal, adiabatic, polytropic, two_stages], abs=6e-4
        )

    @given(st.floats(min_value=1.1, max_value=50.0), st.integers(min_value=1, max_value=5))
    def test_falls_towards_isothermal_with_every_stage(self, ratio, stages):
        fewer = compressor.adiabatic_work_j_per_m3(BAR, ratio * BAR, stages=stages)
        more = compressor.adiabatic_work_j_per_m3(BAR, ratio * BAR, stages=stages + 1)

        assert compressor.isothermal_work_j_per_m3(BAR, ratio * BAR) < more < fewer


class TestSpecificEnergy:
    def test_of_18_kw_per_100_cfm_is_6_36_kw_per_cubic_metre_a_minute(self):
        # Tip sheet no. 3 works with 18 kW per 100 cfm.
        assert compressor.from_kw_per_100_cfm(18.0) / 60000 == pytest.approx(6.3566, abs=5e-5)

    @pytest.mark.parametrize(
        ("energy", "outlet_pa", "code"),
        [
            (0.0577 * 3.6e6, 8 * BAR, "below_isothermal"),
            (40.01 * 21188.8, 8 * BAR, "specific_power_too_high"),
            (4e5, 0.5 * BAR, "no_pressure_difference"),
            (float("nan"), 8 * BAR, "not_finite"),
        ],
    )
    def test_is_refused(self, energy, outlet_pa, code):
        problems = compressor.problems_of_specific_energy(energy, inlet_pa=BAR, outlet_pa=outlet_pa)

        assert [problem.code for problem in problems] == [code]

    def test_of_a_real_machine_is_accepted(self):
        assert compressor.problems_of_specific_energy(3.9e5, inlet_pa=BAR, outlet_pa=8 * BAR) == ()


class TestDecay:
    @pytest.mark.parametrize(("end_psig", "expected"), [(90, 1.046), (50, 1.313)])
    def test_at_the_start_pressure_exceeds_the_mean(self, end_psig, expected):
        # Computed: factor over the mean form for a fall from 100 psig at 14.7 psia.
        psi = 6894.757
        arguments = (10.0, 114.7 * psi, (end_psig + 14.7) * psi, 60.0)
        start = compressor.decay_flow_at_start_m3_per_s(*arguments, atmosphere_pa=101353.0)
        mean = compressor.decay_flow_mean_m3_per_s(*arguments, atmosphere_pa=101353.0)

        assert start / mean == pytest.approx(expected, abs=6e-4)

    @given(st.floats(min_value=3e5, max_value=1e6), st.floats(min_value=1e-4, max_value=1e-2))
    def test_recovers_the_flow_of_a_simulated_choked_leak(self, start_pa, flow):
        volume, atmosphere, steps, duration = 5.0, 101325.0, 2000, 20.0
        pressure = start_pa
        for _ in range(steps):
            middle = pressure - flow * pressure / start_pa * atmosphere / volume * duration / steps / 2
            pressure -= flow * middle / start_pa * atmosphere / volume * duration / steps

        recovered = compressor.decay_flow_at_start_m3_per_s(
            volume, start_pa, pressure, duration, atmosphere_pa=atmosphere
        )

        assert recovered == pytest.approx(flow, rel=1e-6)


class TestPackageEfficiency:
    def test_of_500_cfm_asks_for_18_5_kw_per_100_cfm(self):
        # 10 CFR 431.345: 0.7172 at 500 cfm; work from 1 bar to 100 psig then costs 18.5 kW/100 cfm.
        least = compressor.least_package_efficiency_fixed_speed(0.23597372)
        work = compressor.adiabatic_work_j_per_m3(BAR, BAR + 689475.73)

        assert work / least / 21188.8 == pytest.approx(18.5, abs=0.05)
