"""Flow through an opening: limits, monotony, and computed check values."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics import orifice
from findings.physics.gases import GASES
from findings.physics.reference_states import DEFAULT_STATE, volume_flow_m3_per_s

ATMOSPHERE_PA = 101325.0
PRESSURES = st.floats(min_value=1.02e5, max_value=4e6)
DIAMETERS = st.floats(min_value=1e-4, max_value=0.025)
GAS = st.sampled_from(list(GASES.values()))


def mass_flow(
    gas, diameter_m, upstream_pa, downstream_pa=ATMOSPHERE_PA, *, cd=1.0, k=None, temperature_k=293.15
):
    return orifice.mass_flow_kg_per_s(
        area_m2=orifice.circle_area_m2(diameter_m),
        upstream_pa=upstream_pa,
        downstream_pa=downstream_pa,
        temperature_k=temperature_k,
        molar_mass_kg_per_mol=gas.molar_mass_kg_per_mol,
        k=k or gas.k,
        discharge_coefficient=cd,
    )


# Computed, closed ideal formula at 20 °C to 101 325 Pa: gas, bar absolute, mm, coefficient, k of the value,
# kg/h ideal, kg/h along the isentrope of the real gas (open CoolProp library 8.0), m3/h at 1 bar 20 °C.
ROWS = [
    ("air", 8.0, 1.0, 0.61, 1.400, 3.2569, 3.2684, 2.7407),
    ("air", 2.0, 3.0, 0.80, 1.400, 9.6105, 9.6202, 8.0873),
    ("nitrogen", 6.0, 2.0, 0.61, 1.400, 9.6089, 9.6304, 8.3605),
    ("argon", 5.0, 1.5, 0.80, 1.667, 7.4816, 7.5044, 4.5648),
    ("carbon_dioxide", 7.0, 2.0, 0.61, 1.289, 13.6517, 13.9413, 7.5607),
    ("methane", 1.04, 3.0, 0.61, 1.304, 0.9254, 0.9263, 1.4059),
    ("propane", 4.0, 1.0, 0.61, 1.130, 1.8621, 1.9113, 1.0293),
]
# Computed: free air into vacuum through 1.5 mm with 0.61, kPa absolute in the line against kg/h.
VACUUM = [(10.0, 0.92814), (50.0, 0.92814), (60.0, 0.91975), (80.0, 0.77402)]
# Computed: choked factor of the ideal nozzle for several k.
FACTORS = [(1.1, 0.62836), (1.2, 0.64853), (1.3, 0.66726), (1.4, 0.68473), (5 / 3, 0.72618)]


class TestMassFlow:
    @pytest.mark.parametrize(("name", "bar", "mm", "cd", "k", "ideal", "real", "volume"), ROWS)
    def test_is_the_ideal_value(self, name, bar, mm, cd, k, ideal, real, volume):
        computed = mass_flow(GASES[name], mm / 1000, bar * 1e5, cd=cd, k=k) * 3600

        assert computed == pytest.approx(ideal, abs=6e-5)

    @pytest.mark.parametrize(("name", "bar", "mm", "cd", "k", "ideal", "real", "volume"), ROWS)
    def test_stays_within_its_stated_model_error(self, name, bar, mm, cd, k, ideal, real, volume):
        gas = GASES[name]
        computed = mass_flow(gas, mm / 1000, bar * 1e5, cd=cd) * 3600

        assert abs(computed / real - 1) <= 1.3 * gas.model_error_per_pa * bar * 1e5

    @pytest.mark.parametrize(("name", "bar", "mm", "cd", "k", "ideal", "real", "volume"), ROWS)
    def test_is_given_as_a_volume(self, name, bar, mm, cd, k, ideal, real, volume):
        mass = mass_flow(GASES[name], mm / 1000, bar * 1e5, cd=cd, k=k)

        assert volume_flow_m3_per_s(mass, GASES[name], DEFAULT_STATE) * 3600 == pytest.approx(
            volume, abs=6e-5
        )

    @pytest.mark.parametrize(("kilopascal", "expected"), VACUUM)
    def test_into_vacuum_chokes(self, kilopascal, expected):
        computed = mass_flow(GASES["air"], 0.0015, ATMOSPHERE_PA, kilopascal * 1000, cd=0.61) * 3600

        assert computed == pytest.approx(expected, abs=6e-6)

    @given(GAS, DIAMETERS, PRESSURES, st.floats(min_value=1.001, max_value=5))
    def test_grows_with_pressure(self, gas, diameter, pressure, factor):
        assert mass_flow(gas, diameter, pressure * factor) > mass_flow(gas, diameter, pressure)

    @given(GAS, DIAMETERS, PRESSURES, st.floats(min_value=0.1, max_value=10))
    def test_grows_with_the_square_of_the_diameter(self, gas, diameter, pressure, factor):
        wider = mass_flow(gas, diameter * factor, pressure)

        assert wider == pytest.approx(factor**2 * mass_flow(gas, diameter, pressure), rel=1e-12)

    @given(
        GAS, DIAMETERS, st.floats(min_value=0.01, max_value=0.98), st.floats(min_value=1.001, max_value=1.01)
    )
    def test_never_grows_with_back_pressure(self, gas, diameter, ratio, factor):
        upstream = 8e5

        less = mass_flow(gas, diameter, upstream, upstream * ratio)

        assert mass_flow(gas, diameter, upstream, upstream * ratio * factor) <= less

    @given(GAS, st.floats(min_value=1.0, max_value=4.0))
    def test_falls_with_the_root_of_the_temperature(self, gas, factor):
        cold, hot = (mass_flow(gas, 0.001, 8e5, temperature_k=t) for t in (200.0, 200.0 * factor))

        assert hot == pytest.approx(cold / math.sqrt(factor), rel=1e-12)

    @given(GAS)
    def test_is_continuous_where_it_chokes(self, gas):
        limit = orifice.critical_pressure_ratio(gas.k)

        below, above = (orifice.flow_factor(limit * factor, gas.k) for factor in (1 - 1e-9, 1 + 1e-9))

        assert above == pytest.approx(below, rel=1e-12)

    @given(GAS, st.floats(min_value=1.0, max_value=1e6))
    def test_is_zero_without_a_pressure_difference(self, gas, ratio):
        assert orifice.flow_factor(ratio, gas.k) == 0.0


class TestPressureExponent:
    @given(GAS, st.floats(min_value=1.001e5, max_value=1e6))
    def test_is_the_slope_of_the_flow_in_logarithms(self, gas, pressure):
        step = 1e-6 * (pressure - 1e5)
        low, high = (mass_flow(gas, 0.001, pressure + s, 1e5) for s in (-step, step))

        slope = math.log(high / low) / math.log((pressure + step) / (pressure - step))
        assert orifice.pressure_exponent(1e5 / pressure, gas.k) == pytest.approx(slope, rel=1e-5)

    @given(GAS)
    def test_meets_one_where_the_flow_chokes(self, gas):
        limit = orifice.critical_pressure_ratio(gas.k)

        assert orifice.pressure_exponent(limit * (1 + 1e-9), gas.k) == pytest.approx(1.0, rel=1e-8)


class TestChokedFactor:
    @pytest.mark.parametrize(("k", "expected"), FACTORS)
    def test_is_the_ideal_nozzles(self, k, expected):
        assert orifice.choked_factor(k) == pytest.approx(expected, abs=6e-6)


class TestIso6358:
    def test_conductance_of_an_ideal_hole_gives_the_nozzle_flow(self):
        # Derived from the ideal nozzle: C = 0.1992 dm3/(s bar) per mm2 of effective area.
        mass = orifice.iso_6358_mass_flow_kg_per_s(
            conductance_m3_per_s_pa=0.1992e-8,
            critical_ratio=0.528,
            upstream_pa=8e5,
            downstream_pa=1e5,
            temperature_k=293.15,
        )

        assert mass == pytest.approx(mass_flow(GASES["air"], math.sqrt(4e-6 / math.pi), 8e5), rel=1e-3)

    @given(st.floats(min_value=0.2, max_value=0.5))
    def test_is_continuous_at_its_critical_ratio(self, b):
        below, above = (
            orifice.iso_6358_mass_flow_kg_per_s(
                conductance_m3_per_s_pa=1e-8,
                critical_ratio=b,
                upstream_pa=8e5,
                downstream_pa=8e5 * b * factor,
                temperature_k=293.15,
            )
            for factor in (1 - 1e-9, 1 + 1e-9)
        )

        assert above == pytest.approx(below, rel=1e-12)

    def test_is_zero_without_a_pressure_difference(self):
        mass = orifice.iso_6358_mass_flow_kg_per_s(
            conductance_m3_per_s_pa=1e-8,
            critical_ratio=0.3,
            upstream_pa=1e5,
            downstream_pa=1e5,
            temperature_k=293.15,
        )

        assert mass == 0.0
