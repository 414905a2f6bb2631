"""The calculations of airborne levels, as a caller of the API sees them."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.kinds.calculations import InvalidInput, calculate
from tests.physics.measured_leaks import ROWS

READING = {"level_db": 42.0, "distance_m": 5.0, "distance_u_m": 0.1}
WEATHER = {"air_temperature_k": 293.15, "relative_humidity": 0.5, "air_pressure_pa": 101325.0}
JET = {**READING, **WEATHER, "upstream_absolute_pa": 709275.0, "scale": "absolute", "family": "hole"}
LEAKS = [
    {"level_db": level, "pressure_ratio": ratio, "flow_m3_per_s": flow / 60000.0}
    for level, ratio, flow in ROWS
]


def codes(result):
    return [reason["code"] for reason in result["reasons"]]


class TestAirAbsorption:
    def test_gives_the_standards_value(self):
        result = calculate("air-absorption", {"frequency_hz": 40000, **WEATHER, "air_pressure_pa": 80000})

        assert result["absorption_db_per_m"] == pytest.approx(1.391584, abs=5e-7)

    def test_shows_the_water_behind_it(self):
        result = calculate("air-absorption", {"frequency_hz": 40000, **WEATHER})

        assert (100 * result["water_molar_share"], result["accuracy_class"]) == (
            pytest.approx(1.153037, rel=1e-6),
            0.1,
        )

    def test_says_that_the_weather_is_assumed(self):
        assert codes(calculate("air-absorption", {"frequency_hz": 40000})) == ["weather_assumed"]

    def test_is_refused_where_the_standard_ends(self):
        result = calculate("air-absorption", {"frequency_hz": 40000, **WEATHER, "air_temperature_k": 340})

        assert (result["absorption_db_per_m"], result["status"]) == (None, "refused")


class TestNormaliseLevel:
    def test_gives_the_level_at_one_metre(self):
        result = calculate("normalise-level", READING | WEATHER)

        assert result["level_at_1_m_db"] == pytest.approx(61.252, abs=5e-4)

    def test_takes_off_the_background(self):
        result = calculate("normalise-level", READING | {"background_db": 36.0, "background_rule": "15/6"})

        assert (result["background_correction_db"], result["background_status"]) == (
            pytest.approx(1.2563, abs=5e-5),
            "corrected",
        )

    def test_is_refused_too_far_away(self):
        assert codes(calculate("normalise-level", READING | {"distance_m": 30}))[0] == "distance"


class TestLevelToFlow:
    def test_is_an_order_of_magnitude_without_measured_leaks(self):
        result = calculate("level-to-flow", JET)

        assert (result["label"], "not_calibrated" in codes(result)) == (
            "order of magnitude, not calibrated",
            True,
        )

    def test_speaks_from_measured_leaks(self):
        result = calculate("level-to-flow", JET | {"calibration": LEAKS})

        # 61.252 dB at ratio 7 on the known line: a + b 1.252.
        expected = 10 ** (0.43881016 + 0.06029071 * 1.252) / 60000
        assert result["flow_m3_per_s"] == pytest.approx(expected, rel=1e-3)
        assert (result["label"], result["calibration_leaks"]) == ("calibrated", 14)

    def test_shows_a_mean_for_sums_above_the_median(self):
        result = calculate("level-to-flow", JET | {"calibration": LEAKS})

        factor = math.exp(0.5 * (math.log(10) * 0.17557555) ** 2)
        assert result["mean_flow_m3_per_s"] == pytest.approx(factor * result["flow_m3_per_s"])

    def test_refuses_a_relative_scale_without_measured_leaks(self):
        result = calculate("level-to-flow", JET | {"scale": "relative"})

        assert (result["flow_m3_per_s"], codes(result)) == (None, ["no_absolute_reference"])

    def test_takes_a_relative_scale_with_measured_leaks(self):
        result = calculate("level-to-flow", JET | {"scale": "relative", "calibration": LEAKS})

        assert result["status"] == "estimated"

    def test_only_indicates_until_calibrated(self):
        assert calculate("level-to-flow", JET)["status"] == "indicative"
        assert calculate("level-to-flow", JET | {"calibration": LEAKS[:6]})["status"] == "indicative"

    def test_refuses_a_vacuum(self):
        assert codes(calculate("level-to-flow", JET | {"direction": "in"})) == ["vacuum"]

    def test_points_at_a_measured_leak_less_sure_than_itself(self):
        wrong = [LEAKS[0], LEAKS[1] | {"flow_u_m3_per_s": 1.0}]

        with pytest.raises(InvalidInput) as refusal:
            calculate("level-to-flow", JET | {"calibration": wrong})

        assert [problem.pointer for problem in refusal.value.problems] == ["/calibration/1/flow_u_m3_per_s"]


class TestFitCalibration:
    def test_gives_the_known_line(self):
        result = calculate("fit-calibration", {"calibration": LEAKS})

        line = [result[name] for name in ("slope_per_db", "slope_per_ratio_decade", "scatter_decades")]
        assert line == pytest.approx([0.06029071, -0.66613227, 0.17557555], abs=1e-8)

    def test_lists_each_leak(self):
        result = calculate("fit-calibration", {"calibration": LEAKS})

        assert max(leak["leverage"] for leak in result["residuals"]) == pytest.approx(
            result["leverage_limit"]
        )

    def test_advises_which_leak_to_measure_next(self):
        result = calculate("fit-calibration", {"calibration": LEAKS[:3], "scale": "absolute"})

        assert result["factor_after"] < result["factor_now"]
        assert f"about {result['next_level_db']:.0f} dB" in result["advice"]

    def test_names_the_leak_that_does_not_fit(self):
        odd = [*LEAKS[:4], LEAKS[4] | {"flow_m3_per_s": 2e-3}, *LEAKS[5:]]

        (reason,) = calculate("fit-calibration", {"calibration": odd})["reasons"]

        assert (reason["code"], reason["text"][:6]) == ("leak_off_the_line", "Leak 5")

    def test_names_the_leak_that_is_too_large(self):
        large = [*LEAKS, {"level_db": 92.0, "pressure_ratio": 8.0, "flow_m3_per_s": 0.01}]

        reasons = calculate("fit-calibration", {"calibration": large})["reasons"]

        assert {"code": "saturated", "text": reasons[-1]["text"]} == reasons[-1]
        assert reasons[-1]["text"].startswith("Leak 15 ")

    @given(
        st.lists(
            st.fixed_dictionaries(
                {
                    "level_db": st.floats(-40.0, 200.0) | st.sampled_from([60.0, 61.0]),
                    "pressure_ratio": st.floats(1.0, 1000.0, exclude_min=True) | st.just(7.0),
                    "flow_m3_per_s": st.floats(1e-15, 100.0, exclude_min=True),
                }
            ),
            min_size=1,
            max_size=15,
        ),
        st.sampled_from(["absolute", "relative"]),
    )
    def test_answers_in_figures_whatever_was_measured(self, leaks, scale):
        fitted = calculate("fit-calibration", {"calibration": leaks, "scale": scale})
        asked = calculate("level-to-flow", JET | {"calibration": leaks, "scale": scale})

        assert json.dumps([fitted, asked], allow_nan=False)

    def test_is_refused_where_leaks_are_too_few(self):
        result = calculate("fit-calibration", {"calibration": LEAKS[:3], "scale": "relative"})

        assert (result["slope_per_db"], result["status"], codes(result)) == (
            None,
            "refused",
            ["no_absolute_reference"],
        )
