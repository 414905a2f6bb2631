"""The gas table and its liquid limit."""

import pytest

from findings.physics.gases import GASES, find_gas


class TestGases:
    # Vapour pressures from memory of the NIST fluid data.
    @pytest.mark.parametrize(
        ("name", "temperature_k", "pressure_pa"),
        [("propane", 273.15, 4.74e5), ("propane", 313.15, 1.37e6), ("carbon_dioxide", 253.15, 1.97e6)],
    )
    def test_are_liquid_above_their_vapour_pressure(self, name, temperature_k, pressure_pa):
        line = GASES[name].saturation

        assert line.pressure_pa(temperature_k) == pytest.approx(pressure_pa, rel=0.05)

    def test_have_no_liquid_above_the_critical_temperature(self):
        assert GASES["carbon_dioxide"].saturation.pressure_pa(310.0) == float("inf")

    @pytest.mark.parametrize(
        ("name", "key"), [("CO2", "carbon_dioxide"), ("Carbon dioxide", "carbon_dioxide"), (" He ", "helium")]
    )
    def test_are_found_by_name_and_formula(self, name, key):
        assert find_gas(name).key == key

    @pytest.mark.parametrize("name", ["", "phlogiston", "\x00"])
    def test_without_data_are_not_invented(self, name):
        assert find_gas(name) is None

    def test_name_their_source(self):
        assert all(gas.source for gas in GASES.values())
