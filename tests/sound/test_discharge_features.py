"""From samples to the class: sounds of known make."""

import numpy as np
import pytest

from findings.sound.discharge import Sound
from findings.sound.discharge_features import hear_discharge
from findings.sound.header import Unusable
from findings.sound.proving import EXPECTED, SETTING_SEEDS, confusion
from findings.sound.synthetic import Truth, synthetic
from tests.sound.signals import clock, noise, powered, recording

RATE = 16000
TIME = clock(10, RATE)
CARRIER = np.sin(2 * np.pi * 3210 * TIME)
GATES = [(0.5, 1.2, 1), (2.1, 2.4, 2), (3.6, 4.4, 1), (5.5, 5.7, 3), (7.0, 7.9, 1.5), (9.0, 9.2, 2)]


def hear(samples, **context):
    return hear_discharge(recording(0.8 * samples / np.abs(samples).max()), **context)


def groups(phases, wobble, gate=lambda second: 1.0):
    """Return 15 pulses, 0.25 ms apart and 0.3 ms of decay, around phases of each 50 Hz cycle."""
    after = clock(0.003, RATE)
    pulse = np.exp(-after / 0.0003) * np.sin(2 * np.pi * 3210 * after)
    samples = np.zeros(len(TIME) + len(pulse))
    for cycle in range(500):
        height = 1 + wobble * np.sin(2 * np.pi * 0.37 * cycle)
        for phase in phases:
            for number in range(15):
                second = (cycle + phase) / 50 + (number - 7) * 0.00025
                place = round(second * RATE)
                samples[place : place + len(pulse)] += height * gate(second) * pulse
    return samples[: len(TIME)]


def gated(second):
    return next((height for start, end, height in GATES if start <= second < end), 0.0)


class TestHum:
    def test_at_twice_50_hz(self):
        heard = hear((1 + 0.5 * np.sin(2 * np.pi * 100 * TIME)) * CARRIER)

        assert (heard.verdict.sound, heard.features.mains_hz) == (Sound.HUM, 50)
        assert heard.features.depth == pytest.approx(0.5, abs=0.001)

    def test_at_60_hz_and_its_double(self):
        swell = 1 + 0.3 * np.sin(2 * np.pi * 60 * TIME) + 0.6 * np.sin(2 * np.pi * 120 * TIME)
        heard = hear(swell * CARRIER)

        assert (heard.verdict.sound, heard.features.mains_hz) == (Sound.HUM, 60)
        assert heard.features.depth == pytest.approx(0.671, abs=0.001)
        assert heard.features.second_to_first_db == pytest.approx(6.02, abs=0.01)


class TestDischarge:
    def test_pulses_near_one_voltage_peak_are_corona_like(self):
        pulses = groups([0.75], 0.2)
        heard = hear(powered(pulses, 1) + noise(10, rms=0.4))

        assert (heard.verdict.sound, heard.features.harmonics) == (Sound.CORONA, 10)
        assert heard.features.cycle_cv == pytest.approx(0.25, abs=0.03)

    def test_pulses_on_both_halves_that_come_and_go_are_tracking_like(self):
        heard = hear(powered(groups([0.2, 0.7], 0.4, gated), 1) + noise(10, rms=0.2))

        assert heard.verdict.sound is Sound.TRACKING

    def test_irregular_bursts_are_arcing_like(self):
        samples = noise(10, rms=0.02)
        for start, length in (
            (0.7, 0.02),
            (1.9, 0.06),
            (3.15, 0.01),
            (5.5, 0.035),
            (6.1, 0.05),
            (9.2, 0.015),
        ):
            first = round(start * RATE)
            samples[first : first + round(length * RATE)] += noise(length, rms=1.0, seed=first)
        heard = hear(samples)

        assert heard.verdict.sound is Sound.ARCING
        assert heard.features.bursts_per_s == pytest.approx(0.6, abs=0.01)


class TestNoAllClear:
    def test_stationary_noise_is_steady_noise_and_says_so(self):
        verdict = hear(noise(10)).verdict

        assert verdict.sound is Sound.NOISE
        assert "no proof" in " ".join(reason.text for reason in verdict.reasons)

    @pytest.mark.parametrize("samples", [np.zeros(160_000), noise(10, rms=1e-5), np.full(160_000, 0.3)])
    def test_silence_is_inconclusive(self, samples):
        assert hear_discharge(recording(samples)).verdict.rule.code == "too_weak"

    def test_a_short_recording_is_inconclusive(self):
        heard = hear(noise(4.9))

        assert (heard.verdict.rule.code, heard.features) == ("too_short", None)

    def test_clipped_noise_is_inconclusive(self):
        heard = hear_discharge(recording(np.clip(noise(10, rms=0.5), -1, 1)))

        assert heard.verdict.rule.code == "clipped"

    @pytest.mark.parametrize("seed", range(5))
    def test_discharge_under_noise_is_not_called_hum(self, seed):
        for truth, counted in confusion([seed], snr_db=-6, mains_hz=60).items():
            if EXPECTED[truth] is not Sound.HUM:
                assert counted[Sound.HUM] == 0


class TestDischargeUnderHum:
    @pytest.mark.parametrize("truth", [Truth.CORONA, Truth.ARCING])
    @pytest.mark.parametrize("seed", range(3))
    def test_6_db_below_is_not_called_hum(self, truth, seed):
        hidden = powered(synthetic(truth, seed, snr_db=40).samples.astype(float), 0.5)
        hum = powered(synthetic(Truth.HUM, seed, snr_db=40).samples.astype(float), 1.0)

        assert hear(hidden + hum).verdict.sound is not Sound.HUM


class TestMainsOffItsFrequency:
    @pytest.mark.parametrize("mains_hz", [48.0, 48.7, 51.5, 52.0])
    def test_discharge_is_not_called_hum_or_noise(self, mains_hz):
        heard = hear_discharge(synthetic(Truth.CORONA, 4, snr_db=6, mains_hz=mains_hz))

        assert heard.verdict.sound not in {Sound.HUM, Sound.NOISE}


class TestInventedSounds:
    @pytest.mark.parametrize("mains_hz", [50.0, 60.0])
    def test_are_told_apart_6_db_above_noise(self, mains_hz):
        table = confusion(SETTING_SEEDS[:6], snr_db=6, mains_hz=mains_hz, told_mains=True)
        wrong = sum(
            count
            for truth, counted in table.items()
            for sound, count in counted.items()
            if sound not in {EXPECTED[truth], Sound.INCONCLUSIVE}
        )

        assert wrong == 0


@pytest.mark.parametrize("mains_hz", [0, 16.7, 400, float("nan")])
def test_another_mains_is_refused(mains_hz):
    with pytest.raises(Unusable) as caught:
        hear_discharge(recording(noise(6)), mains_hz=mains_hz)

    assert caught.value.reason.code == "mains"


def test_a_band_that_is_not_there_is_refused():
    with pytest.raises(Unusable):
        hear_discharge(recording(noise(6)), band=(20000, 40000))
