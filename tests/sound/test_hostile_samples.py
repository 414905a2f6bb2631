"""Whatever a readable file holds, the analysis answers or refuses; it never fails and never warns."""

import json
import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from findings.sound.bearing import hear_bearing
from findings.sound.decoding import Recording
from findings.sound.discharge_features import hear_discharge
from findings.sound.envelope import envelope, usual_band
from findings.sound.envelope_spectrum import envelope_spectrum
from findings.sound.header import Unusable
from findings.sound.pictures import RhythmMark, picture
from tests.sound.signals import clock, noise

RATE = 16000
COUNT = 6 * RATE


def click():
    samples = np.zeros(COUNT)
    samples[COUNT // 2] = 0.9
    return samples


def half_silent():
    samples = noise(6)
    samples[: COUNT // 2] = 0
    return samples


HOSTILE = {
    "nothing": np.zeros(COUNT),
    "constant": np.full(COUNT, -0.7),
    "full scale": np.ones(COUNT),
    "square": (-1.0) ** np.arange(COUNT),
    "click": click(),
    "clicks": np.where(np.arange(COUNT) % 160 == 0, 0.9, 0.0),
    "ramp": np.linspace(-1, 1, COUNT),
    "tone": np.sin(2 * np.pi * 3000 * clock(6, RATE)),
    "faint": np.full(COUNT, 1e-38) * noise(6),
    "loud floats": 1e6 * noise(6, rms=0.2),
    "half silent": half_silent(),
    "last sample": np.where(np.arange(COUNT) == COUNT - 1, 1.0, 0.0),
}


def everything(samples, rate=RATE):
    recording = Recording(np.asarray(samples, dtype=np.float32), rate)
    discharge = hear_discharge(recording)
    heard = hear_bearing(recording, parts_hz={"part": 50.0})
    drawn = picture(recording, title="t", rhythm=heard.spectrum, marks=[RhythmMark(50.0, "part")])
    return discharge, heard, drawn


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_samples_are_answered(name):
    discharge, heard, drawn = everything(HOSTILE[name])

    figures = [value for value in vars_of(discharge.features) if value is not None]
    assert all(math.isfinite(figure) for figure in figures)
    assert all(
        math.isfinite(line.frequency_hz) and math.isfinite(line.above_floor_db) for line in heard.lines
    )
    assert not re.search("nan|inf", re.sub('href="[^"]*"', "", drawn))


@pytest.mark.parametrize("name", ["nothing", "constant", "full scale", "ramp", "faint"])
def test_what_holds_no_sound_is_inconclusive(name):
    assert everything(HOSTILE[name])[0].verdict.sound == "inconclusive"


def vars_of(features):
    return [getattr(features, name) for name in features.__slots__]


@settings(max_examples=15)
@given(
    rate=st.sampled_from([8000, 11025, 22050, 44100, 96000, 192000, 500_000]),
    seconds=st.floats(5.0, 5.3),
    seed=st.integers(0, 2**32 - 1),
    power=st.floats(-6, 0),
    sparsity=st.floats(0, 1),
)
def test_any_rate_and_length_is_answered(rate, seconds, seed, power, sparsity):
    dice = np.random.default_rng(seed)
    count = min(math.ceil(seconds * rate), 600_000)
    samples = dice.normal(0, 0.1 * 10**power, count) * (dice.random(count) >= sparsity)
    recording = Recording(samples.astype(np.float32), rate)
    if recording.seconds < 5:
        with pytest.raises(Unusable):
            hear_bearing(recording)
    else:
        assert json.dumps([line._asdict() for line in hear_bearing(recording).lines], allow_nan=False)
        assert hear_discharge(recording).verdict.rule


def test_five_seconds_are_enough_for_a_spectrum_at_every_rate():
    for rate in (8000, 11025, 44100, 500_000):
        recording = Recording(np.float32(noise(5, rate)), rate)

        assert envelope_spectrum(envelope(recording, usual_band(rate))).segments >= 7
