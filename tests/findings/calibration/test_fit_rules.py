"""What a set of calibration leaks teaches."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
import statsmodels.api as sm

from findings.calibration.rules import USUAL, Setup, fit_of
from findings.physics.level_model import CALIBRATED, NOT_CALIBRATED
from tests.findings.calibration.nozzles import points

SLOT = Setup("open_horn", "air", "slot")


class TestAFit:
    def test_gives_the_coefficients_and_limits_of_least_squares(self):
        leaks = points(16, random.Random(3))
        rows = [[1.0, one.level_db - 60, math.log10(one.pressure_ratio / 7)] for one in leaks]
        judge = sm.OLS(np.array([one.log_flow for one in leaks]), np.array(rows)).fit()

        found = fit_of(USUAL, leaks, is_absolute=True).coefficients

        assert [one.value for one in found] == pytest.approx(list(judge.params), rel=1e-9)
        limits = [limit for one in found for limit in (one.low, one.high)]
        assert limits == pytest.approx(list(judge.conf_int().ravel()), rel=1e-6)

    def test_says_of_each_leak_how_far_it_lies_from_the_line(self):
        leaks = points(16, random.Random(3))

        taught = fit_of(USUAL, leaks, is_absolute=True).taught

        apart = [
            math.log10(leak.flow_m3_per_s / one.expected_m3_per_s)
            for leak, one in zip(leaks, taught, strict=True)
        ]
        assert [one.residual_decades for one in taught] == pytest.approx(apart)
        assert sum(apart) == pytest.approx(0.0, abs=1e-9)

    def test_names_the_leak_to_take_next_and_what_it_brings(self):
        following = fit_of(USUAL, points(16, random.Random(3)), is_absolute=True).next_leak

        assert following.factor_after < following.factor_now
        assert "dB" in following.text

    def test_of_an_absolute_scale_without_leaks_is_an_order_of_magnitude(self):
        fit = fit_of(USUAL, [], is_absolute=True)

        assert (fit.model.label, fit.model.uses_prior) == (NOT_CALIBRATED, True)

    @pytest.mark.parametrize(("setup", "absolute"), [(USUAL, False), (SLOT, True)])
    def test_that_no_prior_speaks_for_says_why_there_is_none(self, setup, absolute):
        fit = fit_of(setup, [], is_absolute=absolute)

        assert (fit.model, fit.coefficients, fit.taught) == (None, (), ())
        assert fit.reasons[0].text

    def test_of_a_relative_scale_stands_on_its_own_leaks(self):
        fit = fit_of(USUAL, points(16, random.Random(3)), is_absolute=False)

        assert (fit.model.label, fit.model.uses_prior) == (CALIBRATED, False)
