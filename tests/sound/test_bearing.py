"""A recording at a bearing, from samples to the part that beats."""

import numpy as np
import pytest

from findings.sound.bearing import hear_bearing
from findings.sound.header import Unusable
from findings.sound.rhythm import Character, Match
from tests.sound.signals import bursts, noise, powered, recording


def test_outer_ring_is_heard():
    # 9 elements, 7.94 on 39.04 mm, 1797/min: outer ring 107.364 Hz, inner 162.186 Hz (from memory).
    sound = powered(bursts(8, 16000, 107.36, 0.0008, 3000), 0.03) + noise(8)

    heard = hear_bearing(recording(sound), parts_hz={"outer ring": 107.364, "inner ring": 162.186})

    assert heard.character is Character.RHYTHMIC
    assert [hit.match is Match.FOUND for hit in heard.hits] == [True, False]
    assert heard.fundamental_hz == pytest.approx(107.36, abs=0.3)


def test_irregular_impacts_are_not_called_rhythmic():
    dice = np.random.default_rng(8)
    for _ in range(10):
        sound = noise(8, rms=0.01, seed=int(dice.integers(1000)))
        for start in np.sort(dice.integers(0, len(sound) - 200, 60)):
            sound[start : start + 200] += bursts(200 / 16000, 16000, 1, 0.001, 3000, 0.3)

        assert hear_bearing(recording(sound)).character is Character.IRREGULAR


def test_noise_is_smooth():
    assert hear_bearing(recording(noise(10))).character is Character.SMOOTH


def test_silence_is_not_judged():
    assert hear_bearing(recording(np.zeros(100_000))).character is Character.UNDETERMINED


def test_a_short_recording_is_refused():
    with pytest.raises(Unusable) as caught:
        hear_bearing(recording(noise(4.9)))

    assert caught.value.reason.code == "too_short"
