"""Metered flow by name."""

import pytest

from findings.kinds.calculations import calculate


class TestVariableAreaFlow:
    def test_shows_half_at_four_times_its_scale_pressure(self):
        result = calculate(
            "variable-area-flow",
            {"reading_m3_per_s": 0.001, "pressure_gauge_pa": 300000, "atmosphere_absolute_pa": 100000},
        )

        assert result["flow_m3_per_s"] == pytest.approx(0.002)


class TestThermalMeterFlow:
    def test_is_refused_for_another_gas(self):
        result = calculate("thermal-meter-flow", {"reading_m3_per_s": 0.001, "gas": "argon"})

        assert result["reasons"][0]["code"] == "other_gas_than_certified"


class TestBaseFlow:
    def test_is_less_what_is_known_to_run(self):
        users = [
            {"flow_m3_per_s": 0.01, "flow_u_m3_per_s": 0.003},
            {"flow_m3_per_s": 0.02, "flow_u_m3_per_s": 0.004},
        ]

        result = calculate("base-flow", {"readings_m3_per_s": [0.05] * 40, "window": 5, "users": users})

        assert (result["flow_m3_per_s"], result["flow_u_m3_per_s"]) == pytest.approx((0.02, 0.005))

    def test_is_refused_where_users_take_it_all(self):
        result = calculate(
            "base-flow", {"readings_m3_per_s": [0.05] * 40, "users": [{"flow_m3_per_s": 0.05}]}
        )

        assert (result["flow_m3_per_s"], result["reasons"][0]["code"]) == (None, "users_take_it_all")
