"""Caught flow by name: bag, cylinder over water, bubbles."""

import pytest

from findings.kinds.calculations import calculate

BAG = {"volume_m3": 0.01, "volume_u_m3": 0.0003, "times_s": [14.2] * 3}


def caution_keys(result):
    return {caution["key"] for caution in result["cautions"]}


class TestBagFlow:
    def test_has_the_combined_uncertainty(self):
        # Computed: 3 %, 0.4 s of 14.2 s, 0.5 of 98 kPa and 2 of 300 K combine to 4.2 %.
        result = calculate("bag-flow", BAG | {"atmosphere_absolute_pa": 98000, "temperature_k": 300})

        assert result["flow_u_m3_per_s"] / result["flow_m3_per_s"] == pytest.approx(0.042, abs=5e-4)

    @pytest.mark.parametrize("gas", ["air", "methane", "helium"])
    def test_warns_of_catching_gas(self, gas):
        assert "caught_gas" in caution_keys(calculate("bag-flow", BAG | {"gas": gas}))

    def test_warns_of_fuel_gas_where_it_is_one(self):
        assert "fuel_gas" in caution_keys(calculate("bag-flow", BAG | {"gas": "propane"}))

    def test_is_refused_in_words(self):
        result = calculate("bag-flow", BAG | {"times_s": [2.0]})

        assert (result["flow_m3_per_s"], result["reasons"][0]["code"]) == (None, "bag_time_too_short")


class TestCylinderFlow:
    def test_takes_vapour_and_water_column_off(self):
        # Computed by hand: 101.325 less 2.337 kPa vapour (ISO 9613-1) less 0.979 kPa of 0.1 m water.
        result = calculate("cylinder-flow", {"volume_m3": 0.001, "times_s": [60.0] * 3, "level_m": 0.1})

        assert result["flow_m3_per_s"] * 60000 == pytest.approx(0.98009, abs=2e-4)


class TestBubbleFlow:
    def test_gives_a_class(self):
        # Computed: 40 spheres of 4 mm in a minute are 2.26e-8 m3/s at 1 bar; one digit.
        result = calculate("bubble-flow", {"bubbles": 40, "duration_s": 60, "bubble_diameter_m": 0.004})

        assert (result["flow_m3_per_s"], result["reasons"][0]["code"]) == (2e-8, "class_only")
