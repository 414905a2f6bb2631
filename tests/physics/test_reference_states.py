"""Reference states: published densities, and mass that stays."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.gases import GASES
from findings.physics.reference_states import STATES, convert_flow, density_kg_per_m3, volume_flow_m3_per_s

STATE = st.sampled_from(list(STATES.values()))


class TestDensity:
    # Computed from the ideal gas law and the states' definitions, kg/m3 of dry air.
    @pytest.mark.parametrize(
        ("key", "expected"),
        [
            ("bar20", 1.1884),
            ("normal", 1.2923),
            ("metric_standard", 1.2250),
            ("us_standard", 1.2226),
            ("us_14_5_68f", 1.1880),
        ],
    )
    def test_of_air_is_the_ideal_one(self, key, expected):
        assert density_kg_per_m3(GASES["air"], STATES[key]) == pytest.approx(expected, abs=6e-5)


class TestConvertFlow:
    @given(STATE, STATE, STATE, st.floats(min_value=0, max_value=1e3))
    def test_does_not_depend_on_the_way(self, first, second, third, flow):
        detour = convert_flow(convert_flow(flow, first, second), second, third)

        assert detour == pytest.approx(convert_flow(flow, first, third), rel=1e-12, abs=1e-300)

    @given(STATE, STATE, st.sampled_from(list(GASES.values())), st.floats(min_value=1e-9, max_value=1e3))
    def test_keeps_the_mass(self, first, second, gas, mass):
        flow = convert_flow(volume_flow_m3_per_s(mass, gas, first), first, second)

        assert flow * density_kg_per_m3(gas, second) == pytest.approx(mass, rel=1e-12)
