"""The envelope of a band against scipy's, and its spectrum and lines against scipy's."""

import numpy as np
import pytest
from scipy import signal, stats

from findings.sound.envelope import Band, envelope, usual_band
from findings.sound.envelope_spectrum import (
    EnvelopeSpectrum,
    envelope_spectrum,
    line_threshold,
    local_floor,
    rhythm_lines,
)
from findings.sound.header import Unusable
from tests.sound.signals import bursts, clock, noise, powered, recording


def lines_of(samples):
    return rhythm_lines(envelope_spectrum(envelope(recording(samples), Band(2000, 4500))))


class TestEnvelope:
    @pytest.mark.parametrize("rate", [11025, 16000, 44100, 48000, 192000])
    def test_is_the_magnitude_of_scipys_analytic_signal(self, rate):
        time = clock(3, rate)
        tone = (0.3 + 0.2 * np.cos(2 * np.pi * 37 * time)) * np.sin(2 * np.pi * 2500 * time)
        ours = envelope(recording(tone, rate), Band(1000, 4500))
        theirs = np.abs(signal.hilbert(tone))
        step = round(rate / ours.rate_hz)
        spare = len(theirs) - step * (len(ours.values) - 1)

        offs = [
            np.abs(ours.values - theirs[lead::step][: len(ours.values)])[200:-200].max()
            for lead in range((spare - step) // 2, spare // 2 + 1)
        ]
        assert min(offs) < 0.0005

    def test_does_not_hear_what_lies_outside_its_band(self):
        time = clock(2, 16000)
        outside = 0.3 * np.sin(2 * np.pi * 400 * time) + 0.3 * np.sin(2 * np.pi * 7500 * time)

        assert envelope(recording(outside), Band(1000, 6000)).values.max() < 0.3e-3

    def test_is_the_same_in_pieces(self):
        samples = noise(5)
        whole = envelope(recording(samples), Band(1000, 6000)).values
        later = envelope(recording(samples[4000:]), Band(1000, 6000)).values

        np.testing.assert_allclose(later, whole[1000:], atol=1e-9)

    @pytest.mark.parametrize(
        "band",
        [(0, 4000), (3000, 2000), (1000, 7900), (3000, 3400), (float("nan"), 3000), (1000, float("inf"))],
    )
    def test_refuses_a_band_that_is_not_there(self, band):
        with pytest.raises(Unusable) as caught:
            envelope(recording(noise(1)), Band(*band))

        assert caught.value.reason.code == "band"

    @pytest.mark.parametrize(
        ("rate", "band"),
        [(8000, (1000, 3800)), (48000, (1000, 6000)), (96000, (20000, 45600)), (250000, (20000, 60000))],
    )
    def test_has_a_usual_band_for_every_rate(self, rate, band):
        assert usual_band(rate) == pytest.approx(band)


class TestSpectrum:
    def test_is_scipys(self):
        heard = envelope(recording(noise(8)), Band(1000, 6000))
        _, theirs = signal.welch(heard.values, heard.rate_hz, nperseg=4000, noverlap=2000, detrend="constant")

        # The means taken off differ: once for all here, for each window there.
        np.testing.assert_allclose(envelope_spectrum(heard).power[4:], theirs[4:], rtol=0.02)

    def test_needs_two_windows(self):
        with pytest.raises(ValueError, match="two windows"):
            envelope_spectrum(envelope(recording(noise(1.4)), Band(1000, 6000)))

    def test_floor_is_never_zero(self):
        assert local_floor(np.zeros(50), 3).min() > 0


class TestLineThreshold:
    def test_is_as_published_for_eight_seconds(self):
        # 4.8 dB for 15 half-overlapping windows and 599 bins; own computation.
        assert 10 * np.log10(line_threshold(15, 599)) == pytest.approx(4.8, abs=0.03)

    def test_falls_with_more_windows(self):
        assert line_threshold(60, 599) < line_threshold(15, 599)

    def test_leaves_the_stated_chance(self):
        freedom = 2 * 22 * 9 / 11
        passed = stats.chi2.sf(line_threshold(22, 1) * stats.chi2.ppf(0.5, freedom), freedom)

        assert passed == pytest.approx(1e-3)


class TestRhythmLines:
    def test_find_a_train_as_strong_as_the_noise(self):
        # 107.36 Hz, decay 0.8 ms, carrier 3 kHz, 16 kHz, 8 s, band 2 to 4.5 kHz: within 0.5 Hz.
        lines = lines_of(powered(bursts(8, 16000, 107.36, 0.0008, 3000), 0.05) + noise(8))

        assert lines[0].frequency_hz == pytest.approx(107.4, abs=0.5)

    @pytest.mark.parametrize("seed", range(20))
    def test_find_a_train_16_db_below_the_noise(self, seed):
        lines = lines_of(
            powered(bursts(8, 16000, 107.36, 0.0008, 3000), 0.05 * 10**-0.8) + noise(8, seed=seed)
        )

        assert any(abs(line.frequency_hz - 107.36) < 0.5 for line in lines)

    def test_find_nothing_in_noise(self):
        assert sum(bool(lines_of(noise(8, seed=5000 + seed))) for seed in range(100)) <= 1

    def test_refine_between_bins(self):
        power = np.ones(800)
        offset = np.arange(800) - 123.3
        power += 1e4 * np.exp(-(offset**2))

        line = rhythm_lines(EnvelopeSpectrum(power, 1.0, 15))[0]
        assert line.frequency_hz == pytest.approx(123.3, abs=0.01)

    def test_find_nothing_in_silence(self):
        assert lines_of(np.zeros(100_000)) == ()
