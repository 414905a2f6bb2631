"""Level, rms, crest factor and kurtosis, and when they are refused."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from findings.physics.estimate import Status
from findings.sound.strength import BLOCKS, T_95_OF_19, Reference, clipped_share, strength
from tests.sound.signals import bursts, clock, noise, powered, recording


def codes(estimate):
    return [reason.code for reason in estimate.reasons]


class TestKnownSounds:
    def test_sine(self):
        # Textbook: crest factor the root of 2, kurtosis 1.5.
        heard = strength(recording(0.5 * np.sin(2 * np.pi * 1000 * clock(6, 16000))))

        assert heard.crest_factor.value == pytest.approx(2**0.5, rel=1e-5)
        assert heard.kurtosis.value == pytest.approx(1.5, rel=1e-5)
        assert heard.level.value == pytest.approx(20 * np.log10(0.5) - 3.0103, abs=1e-3)

    def test_square(self):
        heard = strength(recording(0.5 * (-1.0) ** np.arange(96000)))

        assert (heard.crest_factor.value, heard.kurtosis.value) == pytest.approx((1, 1))

    def test_noise(self):
        heard = strength(recording(noise(10)))

        assert heard.kurtosis.value == pytest.approx(3, abs=0.05)
        assert heard.crest_factor.value == pytest.approx(4.4, abs=0.4)

    def test_burst_train(self):
        # Decaying bursts: kurtosis 1.5 T/tau = 15, rms the root of tau/(4 T) = 0.15811; own derivation.
        heard = strength(recording(bursts(5, 48000, 100, 0.001, 6000), 48000))

        assert heard.kurtosis.value == pytest.approx(15, rel=0.02)
        assert heard.rms.value == pytest.approx(0.15811, rel=0.002)

    def test_burst_train_in_noise_of_the_same_power(self):
        # (15 + 6 + 3) / 4 = 6; own derivation.
        train = powered(bursts(5, 48000, 100, 0.001, 6000), 0.05)
        heard = strength(recording(train + noise(5, 48000), 48000))

        assert heard.kurtosis.value == pytest.approx(6, rel=0.02)

    def test_loose_samples_have_the_moments_that_scipy_gives(self):
        values = np.random.default_rng(3).gamma(2.0, 0.02, 90_001)
        heard = strength(recording(values))

        assert heard.kurtosis.value == pytest.approx(
            stats.kurtosis(np.float32(values), fisher=False), rel=1e-5
        )
        assert heard.rms.value == pytest.approx(values.std(), rel=1e-6)


class TestReference:
    def test_moves_the_level_and_adds_its_uncertainty(self):
        bare = strength(recording(noise(6)))
        heard = strength(recording(noise(6)), Reference(114.0, 1.0, "dB re 20 µPa"))

        assert heard.level.value == pytest.approx(bare.level.value + 114)
        assert heard.level.u == pytest.approx((1 + bare.level.u**2) ** 0.5)
        assert heard.level.unit == "dB re 20 µPa"


class TestUncertainty:
    def test_uses_students_factor(self):
        assert pytest.approx(stats.t.ppf(0.975, BLOCKS - 1), abs=5e-4) == T_95_OF_19

    def test_covers_the_truth_about_as_often_as_it_says(self):
        inside = 0
        for seed in range(200):
            kurtosis = strength(recording(noise(5, 8000, seed=seed), 8000)).kurtosis
            inside += kurtosis.low <= 3 <= kurtosis.high

        assert 180 <= inside <= 199


class TestRefusal:
    def test_of_clipped_peaks_keeps_the_level_as_a_lower_bound(self):
        heard = strength(recording(np.clip(noise(6, rms=0.5), -1, 1)))

        assert codes(heard.kurtosis) == codes(heard.crest_factor) == ["clipped"]
        assert (codes(heard.level), heard.level.status) == (["lower_bound"], Status.MEASURED)

    def test_begins_above_a_thousandth(self):
        samples = noise(6, rms=0.1)
        samples[:96] = 1.0
        allowed, forbidden = samples.copy(), samples.copy()
        forbidden[96] = -1.0

        assert clipped_share(recording(allowed)) == 0.001
        assert not strength(recording(allowed)).kurtosis.is_refused
        assert strength(recording(forbidden)).kurtosis.is_refused

    def test_of_a_short_recording(self):
        heard = strength(recording(noise(4.9)))

        assert codes(heard.kurtosis) == ["too_short"]
        assert not heard.level.is_refused

    @pytest.mark.parametrize("samples", [np.zeros(90_000), np.full(90_000, 0.1), np.zeros(1)])
    def test_of_silence(self, samples):
        heard = strength(recording(samples))

        assert codes(heard.level) == codes(heard.rms) == codes(heard.kurtosis) == ["silent"]

    def test_of_a_single_click(self):
        samples = np.zeros(90_000)
        samples[1234] = 0.5

        assert codes(strength(recording(samples)).level) == ["one_burst"]


@settings(max_examples=60)
@given(st.lists(st.floats(-1, 1, width=32), min_size=1, max_size=300))
def test_any_samples_give_figures_or_refusals(samples):
    heard = strength(recording(samples))

    assert heard.level.is_refused == heard.rms.is_refused
