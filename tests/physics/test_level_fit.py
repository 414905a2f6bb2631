"""The level model learnt from measured leaks: least squares, shrinkage, and when it is refused."""

import math

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import integrate, stats

from findings.physics import level_fit, level_form
from findings.physics.level_fit import LITRES_PER_MINUTE, NotFittable, fit, prior_model, residuals
from findings.physics.level_form import CalibrationPoint, LeakFamily, LevelModel
from findings.physics.level_model import predict
from findings.physics.uncertainty import coverage_factor
from tests.physics.measured_leaks import ROWS


def leaks(count=14, u=0.05):
    """Return the first leaks of the set, each flow with a relative uncertainty."""
    return [
        CalibrationPoint(level, ratio, flow / 60000.0, u * flow / 60000.0)
        for level, ratio, flow in ROWS[:count]
    ]


def matrices(points):
    rows = np.array([level_form.design_row(point.level_db, point.pressure_ratio) for point in points])
    return rows, np.array([point.log_flow for point in points])


def in_litres_per_minute(model):
    a, b, c = model.coefficients
    return a + LITRES_PER_MINUTE, b, c


class TestLeastSquares:
    def test_gives_the_known_coefficients(self):
        assert in_litres_per_minute(fit(leaks())) == pytest.approx(
            (0.43881016, 0.06029071, -0.66613227), abs=1e-8
        )

    def test_gives_the_known_scatter(self):
        assert fit(leaks()).scale == pytest.approx(0.17557555, abs=1e-8)

    def test_gives_the_known_standard_errors(self):
        model = fit(leaks())

        errors = [model.scale * math.hypot(*row) for row in model.covariance_factor]

        assert errors == pytest.approx((0.05068819, 0.00469021, 0.44509153), abs=1e-8)

    def test_agrees_with_statsmodels(self):
        rows, values = matrices(leaks())

        assert fit(leaks()).coefficients == pytest.approx(sm.OLS(values, rows).fit().params, rel=1e-11)

    def test_takes_the_largest_leverage_as_its_limit(self):
        assert fit(leaks()).leverage_limit == pytest.approx(0.34312, abs=5e-6)

    def test_weighs_unsure_flows_as_statsmodels_does(self):
        points = [*leaks(13), CalibrationPoint(74.8, 9.0, 22.52 / 60000, 0.4 * 22.52 / 60000)]
        rows, values = matrices(points)
        first = sm.OLS(values, rows).fit()
        weights = [first.scale / (first.scale + point.log_u**2) for point in points]
        expected = sm.WLS(values, rows, weights=weights).fit()

        model = fit(points)

        assert (*model.coefficients, model.scale) == pytest.approx((*expected.params, expected.scale**0.5))

    def test_counts_a_flow_known_within_ten_per_cent_as_exact(self):
        assert fit(leaks(u=0.1)) == fit(leaks(u=0.0))

    def test_trusts_no_set_of_leaks_to_lie_on_its_line(self):
        rows = [(40.0 + 3.0 * i, 2.0 + i % 5) for i in range(12)]
        exact = [
            CalibrationPoint(level, ratio, 1e-5 * 10 ** (0.06 * (level - 60)), 0.0) for level, ratio in rows
        ]

        assert fit(exact).scale == level_fit.SMALLEST_SCALE

    def test_covers_the_levels_and_pressures_of_its_leaks(self):
        model = fit(leaks())

        assert (model.level_range_db, model.pressure_ratio_range) == ((45.4, 74.8), (4.0, 9.0))

    def test_is_called_calibrated(self):
        assert fit(leaks()).label == "calibrated"


class TestShrinkage:
    def posterior(self, points):
        """Return mean, V, a and d of the normal-inverse-gamma posterior by its textbook formulas."""
        mean = np.array(level_fit.PRIOR_COEFFICIENTS)
        precision = np.diag(level_fit.PRIOR_SCATTER**2 / np.array(level_fit.PRIOR_SD) ** 2)
        rows, values = matrices(points)
        spread = np.linalg.inv(precision + rows.T @ rows)
        new = spread @ (precision @ mean + rows.T @ values)
        square = values @ values + mean @ precision @ mean - new @ np.linalg.inv(spread) @ new
        return new, spread, 3.0 + len(points) / 2, 0.405 + 0.5 * square

    @pytest.mark.parametrize("count", [1, 3, 5, 11])
    def test_gives_the_posterior_of_the_textbook(self, count):
        mean, spread, shape, rate = self.posterior(leaks(count))

        model = fit(leaks(count))

        factor = np.array(model.covariance_factor)
        assert model.coefficients == pytest.approx(mean, rel=1e-10)
        assert factor @ factor.T == pytest.approx(spread, rel=1e-9, abs=1e-14)
        assert (model.degrees_of_freedom, model.scale**2) == pytest.approx((2 * shape, rate / shape))

    def test_of_three_leaks_gives_the_known_figures(self):
        model = fit(leaks(3))

        rate = model.scale**2 * model.degrees_of_freedom / 2
        assert (*in_litres_per_minute(model), rate) == pytest.approx(
            (0.309779, 0.063212, -0.808698, 0.449715), abs=1e-6
        )

    def test_of_fourteen_leaks_gives_the_known_figures(self):
        model = level_fit._shrinkage(leaks())

        rate = model.scale**2 * model.degrees_of_freedom / 2
        assert (*in_litres_per_minute(model), rate) == pytest.approx(
            (0.389808, 0.060488, -0.802498, 0.648931), abs=1e-6
        )

    def test_without_leaks_is_the_prior(self):
        model = prior_model()

        spreads = [math.hypot(*row) * level_fit.PRIOR_SCATTER for row in model.covariance_factor]
        assert (in_litres_per_minute(model), spreads) == (
            pytest.approx((0.20, 0.062, -0.80)),
            pytest.approx([0.25, 0.015, 0.40]),
        )

    def test_believes_an_unsure_flow_less(self):
        sure, unsure = ([CalibrationPoint(60.0, 7.0, 1e-3, relative * 1e-3)] for relative in (0.05, 0.9))

        assert fit(unsure).coefficients[0] < fit(sure).coefficients[0]

    def test_counts_an_unsure_flow_by_both_variances(self):
        point = CalibrationPoint(60.0, 7.0, 1e-3, 5e-4)
        first = fit([CalibrationPoint(60.0, 7.0, 1e-3, 0.0)])
        share = first.scale**2 / (first.scale**2 + (0.5 / math.log(10)) ** 2)
        mean = level_fit.PRIOR_COEFFICIENTS[0]
        precision = (0.45 / 0.25) ** 2

        expected = (precision * mean + share * -3.0) / (precision + share)

        assert fit([point]).coefficients[0] == pytest.approx(expected)

    @pytest.mark.parametrize(
        ("count", "label"), [(0, level_fit.NOT_CALIBRATED), (1, level_fit.FEW), (11, level_fit.FEW)]
    )
    def test_says_how_far_to_trust_it(self, count, label):
        assert fit(leaks(count)).label == label

    def test_takes_over_where_many_leaks_are_too_alike(self):
        alike = [CalibrationPoint(60.0 + i, 7.0, 3e-5 * (1 + i % 3), 0.0) for i in range(12)]

        assert (fit(alike).uses_prior, fit(alike).label) == (True, level_fit.NARROW)

    @pytest.mark.parametrize(("tail", "side"), [(0.025, -1.0), (0.975, 1.0)])
    def test_interval_limits_hold_their_share_of_the_posterior(self, tail, side):
        # The leak's normal distribution, integrated over the variance's inverse gamma by quadrature.
        mean, spread, shape, rate = self.posterior(leaks(5))
        model, row = fit(leaks(5)), np.array(level_form.design_row(60.0, 7.0))
        widening = 1 + row @ spread @ row
        reach = coverage_factor(model.degrees_of_freedom) * model.scale * math.sqrt(widening)
        limit = level_form.line(model, row) + side * reach

        def share(variance):
            below = stats.norm.cdf((limit - row @ mean) / math.sqrt(variance * widening))
            return below * stats.invgamma.pdf(variance, shape, scale=rate)

        assert integrate.quad(share, 1e-6, 20.0, limit=200)[0] == pytest.approx(tail, abs=1e-6)


class TestWithoutPrior:
    @pytest.mark.parametrize("count", [0, 4])
    @pytest.mark.parametrize(
        ("wanted", "code"),
        [
            ({"use_prior": False}, "no_absolute_reference"),
            ({"gas": "nitrogen"}, "gas"),
            ({"family": LeakFamily.SLOT}, "family"),
        ],
    )
    def test_needs_five_leaks(self, count, wanted, code):
        with pytest.raises(NotFittable) as refusal:
            fit(leaks(count), **wanted)

        assert refusal.value.reason.code == code

    def test_needs_leaks_that_differ(self):
        with pytest.raises(NotFittable) as refusal:
            fit([CalibrationPoint(60.0 + i / 2, 7.0 + i, 3e-5, 0.0) for i in range(6)], use_prior=False)

        assert refusal.value.reason.code == "calibration_spread"

    def test_at_one_pressure_is_a_line_in_the_level(self):
        measured = [CalibrationPoint(one.level_db, 8.0, one.flow_m3_per_s, 0.0) for one in leaks(14)]
        rows, values = matrices(measured)
        rival = sm.OLS(values, rows[:, :2]).fit()

        model = fit(measured, use_prior=False)
        told = predict(model, 62.0, 8.0)

        band = rival.get_prediction([[1.0, 2.0]]).summary_frame()
        assert [math.log10(number) for number in (told.value, told.low, told.high)] == pytest.approx(
            [band["mean"][0], band["obs_ci_lower"][0], band["obs_ci_upper"][0]]
        )
        assert (model.label, told.reasons[0].code) == (level_fit.ONE_PRESSURE, "calibration_one_pressure")

    def test_at_one_pressure_says_nothing_of_another(self):
        measured = [CalibrationPoint(one.level_db, 8.0, one.flow_m3_per_s, 0.0) for one in leaks(14)]

        told = predict(fit(measured, use_prior=False), 62.0, 6.5)

        assert [reason.code for reason in told.reasons] == ["out_of_range"]

    def test_is_least_squares_from_five_on(self):
        rows, values = matrices(leaks(6))

        model = fit(leaks(6), use_prior=False)

        assert model.coefficients == pytest.approx(sm.OLS(values, rows).fit().params)
        assert (model.uses_prior, model.label) == (False, level_fit.FEW)

    def test_keeps_what_it_holds_for(self):
        model = fit(leaks(6), gas="nitrogen", family=LeakFamily.PACKING)

        assert (model.gas, model.family, model.uses_prior) == ("nitrogen", LeakFamily.PACKING, False)


class TestSpread:
    def square(self, level_sd, log_ratio_sd):
        """Return twelve leaks at the corners of a square, so that level and pressure vary apart."""
        corners = [(i, j) for i in (-1, 1) for j in (-1, 1)] * 3
        return [
            CalibrationPoint(60.0 + level_sd * i, 7.0 * 10 ** (log_ratio_sd * j), 2e-5 + 1e-6 * n, 0.0)
            for n, (i, j) in enumerate(corners)
        ]

    @pytest.mark.parametrize(
        ("level_sd", "log_ratio_sd", "enough"),
        [(4.1, 0.051, True), (3.9, 0.051, False), (4.1, 0.049, False)],
    )
    def test_is_wanted_in_level_and_pressure(self, level_sd, log_ratio_sd, enough):
        assert fit(self.square(level_sd, log_ratio_sd)).uses_prior != enough

    def test_is_not_there_where_pressure_goes_with_level(self):
        together = [CalibrationPoint(50.0 + 2 * i, 3.0 * 10 ** (0.05 * i), 1e-5, 0.0) for i in range(12)]

        assert fit(together).uses_prior


class TestResiduals:
    def test_are_measured_over_expected(self):
        rows, values = matrices(leaks())

        found = residuals(fit(leaks()), leaks())

        assert [residual.decades for residual in found] == pytest.approx(sm.OLS(values, rows).fit().resid)

    def test_carry_their_leverage(self):
        rows, values = matrices(leaks())

        found = residuals(fit(leaks()), leaks())

        hat = sm.OLS(values, rows).fit().get_influence().hat_matrix_diag
        assert [residual.leverage for residual in found] == pytest.approx(hat)

    def test_point_at_the_leak_that_does_not_fit(self):
        odd = leaks()
        odd[4] = CalibrationPoint(50.4, 6.0, 0.76e1 / 60000, 0.0)

        worst = max(residuals(fit(odd), odd), key=lambda residual: abs(residual.scatters))

        assert worst.point == odd[4]


class TestCalibrationPoint:
    @pytest.mark.parametrize(
        "leak",
        [
            (math.nan, 7.0, 1e-5, 0.0),
            (250.0, 7.0, 1e-5, 0.0),
            (60.0, 1.0, 1e-5, 0.0),
            (60.0, 7.0, 0.0, 0.0),
            (60.0, 7.0, math.inf, 0.0),
            (60.0, 7.0, 1e-5, -1e-9),
            (60.0, 7.0, 1e-5, 2e-5),
        ],
    )
    def test_is_a_leak_that_can_be(self, leak):
        with pytest.raises(ValueError, match="calibration leak"):
            CalibrationPoint(*leak)


class TestLevelModel:
    @pytest.mark.parametrize("count", [0, 5, 14])
    def test_survives_json(self, count):
        model = fit(leaks(count))

        assert LevelModel.from_json(model.to_json()) == model

    @pytest.mark.parametrize(
        "wrong",
        [
            {"scale": 0.0},
            {"coefficients": [0.0, math.nan, 0.0]},
            {"covariance_factor": [[1.0, 0.0, 0.0]]},
            {"count": -1},
            {"coefficients": [1.0, 2.0]},
        ],
    )
    def test_refuses_numbers_that_are_no_model(self, wrong):
        with pytest.raises(ValueError):  # noqa: PT011 - unpacking has its own words
            LevelModel.from_json(prior_model().to_json() | wrong)
