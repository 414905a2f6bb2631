"""What the level model says of a reading: flow, interval, refusal, and the leak to measure next."""

import math
from dataclasses import replace

import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st

from findings.physics import jet_noise
from findings.physics.least_squares import leverage
from findings.physics.level_form import design_row
from findings.physics.level_model import (
    CalibrationPoint,
    LevelModel,
    fit,
    is_saturated_leak,
    next_calibration_leak,
    predict,
    prior_model,
)
from tests.physics.measured_leaks import ROWS

LEAKS = [CalibrationPoint(level, ratio, flow / 60000.0, 0.0) for level, ratio, flow in ROWS]
CALIBRATED = fit(LEAKS)


def limits(estimate):
    """Return value and interval in l/min."""
    return [number * 60000.0 for number in (estimate.value, estimate.low, estimate.high)]


def codes(estimate):
    return [reason.code for reason in estimate.reasons]


class TestInterval:
    @pytest.mark.parametrize(
        ("level", "ratio", "expected"),
        [(60.0, 7.0, (2.7467, 1.0879, 6.9348)), (70.0, 6.0, (12.1987, 4.5957, 32.3800))],
    )
    def test_of_fourteen_leaks(self, level, ratio, expected):
        assert limits(predict(CALIBRATED, level, ratio)) == pytest.approx(expected, rel=2e-5)

    @pytest.mark.parametrize(
        ("level", "ratio", "expected"),
        [
            (60.0, 7.0, (1.5849, 0.1484, 16.923)),
            (75.0, 8.0, (12.123, 0.9125, 161.06)),
            (45.0, 5.0, (0.2437, 0.0181, 3.2763)),
        ],
    )
    def test_of_the_prior(self, level, ratio, expected):
        assert limits(predict(prior_model(), level, ratio)) == pytest.approx(expected, rel=3e-3)

    def test_of_three_leaks(self):
        assert limits(predict(fit(LEAKS[:3]), 60.0, 7.0)) == pytest.approx((2.0407, 0.3455, 12.052), rel=2e-4)

    @pytest.mark.parametrize(("level", "ratio"), [(60.0, 7.0), (50.0, 5.0), (70.0, 6.0)])
    def test_is_the_prediction_interval_of_statsmodels(self, level, ratio):
        rows = [design_row(leak.level_db, leak.pressure_ratio) for leak in LEAKS]
        fitted = sm.OLS([leak.log_flow for leak in LEAKS], rows).fit()
        frame = fitted.get_prediction([design_row(level, ratio)]).summary_frame(alpha=0.05)

        estimate = predict(CALIBRATED, level, ratio)

        found = [math.log10(number) for number in (estimate.value, estimate.low, estimate.high)]
        columns = ("mean", "obs_ci_lower", "obs_ci_upper")
        assert found == pytest.approx([frame[column].iloc[0] for column in columns], rel=1e-9)

    def test_widens_with_an_unsure_level(self):
        sure, unsure = (predict(CALIBRATED, 60.0, 7.0, u) for u in (0.0, 2.0))
        model = CALIBRATED
        spread = model.scale * math.sqrt(1 + leverage(model.covariance_factor, design_row(60.0, 7.0)))

        grown = math.log(unsure.high / unsure.low) / math.log(sure.high / sure.low)

        assert grown == pytest.approx(math.hypot(spread, 2.0 * model.coefficients[1]) / spread)

    @pytest.mark.parametrize(("scale", "factor"), [(0.10, 1.027), (0.20, 1.112), (0.50, 1.94)])
    def test_mean_for_sums_lies_above_the_median(self, scale, factor):
        model = LevelModel.from_json(CALIBRATED.to_json() | {"scale": scale})

        estimate = predict(model, 60.0, 7.0)

        assert estimate.inputs["mean_flow_m3_per_s"] / estimate.value == pytest.approx(factor, rel=1e-3)

    @given(st.floats(45.4, 74.8), st.floats(4.0, 9.0))
    def test_contains_its_value(self, level, ratio):
        estimate = predict(CALIBRATED, level, ratio)

        assert estimate.is_refused or estimate.low < estimate.value < estimate.high

    @given(st.floats(30.0, 80.0), st.floats(0.1, 10.0), st.floats(2.0, 16.0))
    def test_grows_with_the_level(self, level, more, ratio):
        quiet, loud = (predict(prior_model(), db, ratio) for db in (level, level + more))

        assert loud.is_refused or loud.value > quiet.value

    def test_can_be_recomputed_from_its_inputs(self):
        estimate = predict(CALIBRATED, 60.0, 7.0, 1.0)
        kept = estimate.inputs

        again = predict(
            LevelModel.from_json(kept["model"]), kept["level_db"], kept["pressure_ratio"], kept["level_u_db"]
        )

        assert again == estimate


class TestRefusal:
    @pytest.mark.parametrize(
        ("level", "ratio", "leverage_there"), [(90.0, 7.0, 0.7953), (50.0, 12.0, 0.6720)]
    )
    def test_outside_the_measured_leaks(self, level, ratio, leverage_there):
        model = CALIBRATED

        assert codes(predict(model, level, ratio)) == ["out_of_range"]
        found = leverage(model.covariance_factor, design_row(level, ratio))
        assert found == pytest.approx(leverage_there, abs=5e-5)

    def test_between_the_measured_leaks_but_far_from_any(self):
        assert codes(predict(CALIBRATED, 74.8, 4.0)) == ["leverage"]

    def test_below_the_critical_ratio(self):
        assert codes(predict(CALIBRATED, 60.0, 1.5)) == ["regime"]

    def test_not_below_the_critical_ratio_where_it_was_calibrated(self):
        low = [replace(leak, pressure_ratio=leak.pressure_ratio / 3) for leak in LEAKS]

        assert not predict(fit(low), 60.0, 1.8).is_refused

    def test_of_a_leak_too_large_for_its_band(self):
        assert codes(predict(prior_model(), 95.0, 2.0)) == ["saturated"]

    def test_of_a_large_leak_is_lifted_by_a_lower_band(self):
        assert not predict(prior_model(), 88.0, 2.0, frequency_hz=25000.0).is_refused
        assert predict(prior_model(), 88.0, 2.0, frequency_hz=40000.0).is_refused

    @pytest.mark.parametrize(
        "reading", [(math.nan, 7.0, 0.0), (60.0, math.inf, 0.0), (60.0, 7.0, -1.0), (1e300, 1e300, 1e300)]
    )
    def test_of_impossible_numbers(self, reading):
        assert predict(prior_model(), *reading).is_refused

    def test_of_a_level_that_nobody_knows(self):
        assert codes(predict(prior_model(), 60.0, 7.0, 25.0)) == ["uncertainty_too_large"]

    @pytest.mark.parametrize("frequency", [0.0, -1.0, 500.0, 2e6])
    def test_of_a_band_that_is_no_detectors(self, frequency):
        assert codes(predict(prior_model(), 60.0, 7.0, frequency_hz=frequency)) == ["frequency"]

    def test_where_wrong_leaks_give_a_flow_that_is_no_leaks(self):
        wrong = [
            CalibrationPoint(60.0 + 8 * (i % 2), 7.0, 10.0 ** (-14 + 16 * (i % 2)), 0.0) for i in range(11)
        ]

        assert codes(predict(fit(wrong), 40.0, 7.0)) == ["out_of_range"]

    @given(st.floats() | st.just(60.0), st.floats() | st.just(7.0), st.floats() | st.just(0.0), st.floats())
    def test_has_no_figure(self, level, ratio, u, frequency):
        estimate = predict(prior_model(), level, ratio, u, frequency_hz=frequency)

        assert (estimate.value is None) == estimate.is_refused

    def test_is_explained_in_words(self):
        text = predict(CALIBRATED, 90.0, 7.0).reasons[0].text

        assert (
            text
            == "The level of 90.0 dB at 1 m lies outside 45.4 to 74.8 dB, the range of the measured leaks."
        )


class TestRemarks:
    def test_say_that_nothing_was_calibrated(self):
        assert codes(predict(prior_model(), 60.0, 7.0)) == ["not_calibrated"]

    def test_count_the_few_leaks(self):
        (reason,) = predict(fit(LEAKS[:1]), 60.0, 7.0).reasons

        assert reason.code == "few_calibration_leaks"
        assert reason.text.startswith("Only 1 measured leak stands behind")

    def test_say_that_the_leaks_were_much_alike(self):
        alike = [CalibrationPoint(60.0 + i, 7.0, 3e-5 * (1 + i % 3), 0.0) for i in range(12)]

        assert codes(predict(fit(alike), 60.0, 7.0)) == ["calibration_narrow"]

    def test_are_silent_once_calibrated(self):
        assert codes(predict(CALIBRATED, 60.0, 7.0)) == []


class TestSaturatedLeak:
    @pytest.mark.parametrize(("millimetres", "saturated"), [(1.0, False), (2.2, False), (2.4, True)])
    def test_is_one_whose_level_no_longer_tells_its_size(self, millimetres, saturated):
        hole = jet_noise.Jet(millimetres / 1000.0, 8.0)

        assert is_saturated_leak(CalibrationPoint(90.0, 8.0, hole.flow_m3_per_s, 0.0)) == saturated


class TestNextLeak:
    @pytest.mark.parametrize("count", [0, 3, 11, 14])
    def test_narrows_the_interval(self, count):
        advice = next_calibration_leak(fit(LEAKS[:count]))

        assert 1.0 < advice.factor_after < advice.factor_now

    def test_goes_where_no_leak_was_measured(self):
        # All leaks at 50 to 60 dB and pressure ratio 7: the best next one is loud and at another pressure.
        same = [CalibrationPoint(50.0 + 2 * i, 7.0, 1e-5 * (1 + i), 0.0) for i in range(6)]

        advice = next_calibration_leak(fit(same))

        assert advice.level_db >= 80.0
        assert advice.pressure_ratio < 5.0

    def test_promises_what_a_leak_on_the_line_brings(self):
        model = fit(LEAKS[:5])
        advice = next_calibration_leak(model)
        expected = predict(model, advice.level_db, advice.pressure_ratio)
        leak = CalibrationPoint(advice.level_db, advice.pressure_ratio, expected.value, 0.0)

        after = next_calibration_leak(fit([*LEAKS[:5], leak]))

        # A leak right on the line also shrinks the scatter a little; the promise leaves that out.
        assert after.factor_now == pytest.approx(advice.factor_after, rel=0.2)
        assert after.factor_now <= advice.factor_after

    def test_can_be_measured(self):
        advice = next_calibration_leak(prior_model())
        hole = jet_noise.hole_of(
            predict(prior_model(), advice.level_db, advice.pressure_ratio).value, advice.pressure_ratio
        )

        assert not jet_noise.is_saturated(hole)

    def test_lies_within_reach_of_the_levels_of_a_scale_of_its_own(self):
        own = [
            CalibrationPoint(leak.level_db - 50.0, leak.pressure_ratio, leak.flow_m3_per_s, 0.0)
            for leak in LEAKS
        ]

        advice = next_calibration_leak(fit(own, use_prior=False))

        assert -15.0 <= advice.level_db <= 35.0

    def test_is_none_where_no_leak_can_be_measured(self):
        model = LevelModel.from_json(prior_model().to_json() | {"coefficients": [300.0, 0.0, 0.0]})

        assert next_calibration_leak(model) is None
