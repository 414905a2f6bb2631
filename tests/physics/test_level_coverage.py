"""Do 95 % of new leaks lie inside the 95 % interval, on simulated plants?"""

import numpy as np
import pytest

from findings.physics import level_fit
from findings.physics.level_form import CalibrationPoint, design_row
from findings.physics.level_model import fit, predict
from tests.physics.measured_leaks import ROWS

PLANTS = 400


def leak(rng, line, scatter, ratios=(3.0, 11.0)):
    """Return the level, ratio and log10 flow of a leak about a plant's true line."""
    level, ratio = rng.uniform(45.0, 80.0), rng.uniform(*ratios)
    on_line = sum(a * b for a, b in zip(line, design_row(level, ratio), strict=True))
    return level, ratio, on_line + scatter * rng.normal()


def coverage(count, scatter, *, use_prior=True, measured_at=(3.0, 11.0), heard_at=(3.0, 11.0)):
    """Return the part of new leaks inside their interval, one per plant whose model doesn't refuse it.

    Each plant's true line is drawn from the prior.
    """
    rng = np.random.default_rng(count)
    inside = []
    for _ in range(PLANTS):
        line = rng.normal(level_fit.PRIOR_COEFFICIENTS, level_fit.PRIOR_SD)
        measured = [leak(rng, line, scatter, measured_at) for _ in range(count)]
        level, ratio, flow = leak(rng, line, scatter, heard_at)
        points = [CalibrationPoint(db, pr, min(10.0**log, 100.0), 0.0) for db, pr, log in measured]
        estimate = predict(fit(points, use_prior=use_prior), level, ratio)
        if not estimate.is_refused:
            inside.append(estimate.low <= 10.0**flow <= estimate.high)
    return sum(inside) / len(inside)


# Three standard deviations of a share of 0.95 among 300 to 400 that aren't refused are 0.033 to 0.038.
@pytest.mark.parametrize("count", [0, 5, 11, 12, 30])
def test_holds_at_the_scatter_the_prior_expects(count):
    assert coverage(count, 0.45) == pytest.approx(0.95, abs=0.035)


@pytest.mark.parametrize("count", [0, 5, 11])
def test_is_cautious_where_leaks_scatter_less_than_the_prior_fears(count):
    assert coverage(count, 0.15) > 0.98


@pytest.mark.parametrize("count", [12, 30])
def test_holds_at_any_scatter_once_calibrated(count):
    assert coverage(count, 0.15) == pytest.approx(0.95, abs=0.035)


def test_holds_for_an_instrument_with_a_scale_of_its_own():
    assert coverage(20, 0.15, use_prior=False) == pytest.approx(0.95, abs=0.035)


@pytest.mark.parametrize("scatter", [0.05, 0.15, 0.45])
def test_holds_in_a_plant_of_one_pressure(scatter):
    found = coverage(15, scatter, use_prior=False, measured_at=(7.9, 8.1), heard_at=(7.3, 8.7))

    assert found == pytest.approx(0.95, abs=0.035)


def test_the_mean_for_sums_is_the_mean_of_leaks_about_one_line():
    model = fit([CalibrationPoint(level, ratio, flow / 60000.0, 0.0) for level, ratio, flow in ROWS])
    estimate = predict(model, 60.0, 7.0)
    scattered = 10.0 ** (model.scale * np.random.default_rng(3).normal(size=40000))

    # The mean of 40 000 such leaks is itself known to 0.2 %.
    assert estimate.inputs["mean_flow_m3_per_s"] == pytest.approx(
        estimate.value * scattered.mean(), rel=0.008
    )
