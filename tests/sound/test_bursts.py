"""Kurtosis and rms of burst trains against samples."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from findings.sound.bursts import burst_kurtosis, burst_rms, kurtosis_in_noise
from tests.sound.signals import bursts


@pytest.mark.parametrize(("every_hz", "tau_s"), [(100, 0.001), (50, 0.001), (100, 0.0019), (20, 0.005)])
def test_formulas_agree_with_samples(every_hz, tau_s):
    samples = bursts(4, 96000, every_hz, tau_s, 9000)

    assert burst_kurtosis(1 / every_hz, tau_s) == pytest.approx(
        stats.kurtosis(samples, fisher=False), rel=0.01
    )
    assert burst_rms(1 / every_hz, tau_s) == pytest.approx(np.sqrt(np.mean(samples**2)), rel=0.005)


@pytest.mark.parametrize(("ratio", "expected"), [(1, 6.0), (0.25, 3.48), (0, 3)])
def test_noise_hides_a_kurtosis_of_fifteen(ratio, expected):
    # Own derivation and computation.
    assert kurtosis_in_noise(15, ratio) == pytest.approx(expected, abs=0.005)


@given(st.floats(1, 1e4), st.floats(0, 1e3))
def test_noise_only_draws_towards_three(kurtosis, ratio):
    low, high = sorted((3, kurtosis))

    assert low - 1e-9 <= kurtosis_in_noise(kurtosis, ratio) <= high + 1e-9


def test_bursts_that_overlap_are_refused():
    assert (burst_kurtosis(0.004, 0.001), burst_rms(0.004, 0.001)) == (None, None)
