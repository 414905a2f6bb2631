"""Invented recordings: the same for the same seed, and as loud as they say."""

import io

import numpy as np
import pytest

from findings.sound.bearing import hear_bearing
from findings.sound.decoding import decode
from findings.sound.rhythm import Match
from findings.sound.synthetic import NOISE_RANGE_DB, Truth, synthetic, wav_bytes

EACH = pytest.mark.parametrize("truth", list(Truth))


@EACH
def test_are_the_same_for_the_same_seed(truth):
    assert np.array_equal(synthetic(truth, 5, seconds=6).samples, synthetic(truth, 5, seconds=6).samples)


@EACH
def test_differ_by_seed(truth):
    assert not np.array_equal(synthetic(truth, 5, seconds=6).samples, synthetic(truth, 6, seconds=6).samples)


@EACH
def test_never_clip(truth):
    recording = synthetic(truth, 7)

    assert np.abs(recording.samples).max() < recording.clipping_level


@EACH
def test_come_back_from_their_file(truth):
    recording = synthetic(truth, 3, seconds=6)
    back = decode(io.BytesIO(wav_bytes(recording)))

    assert back.rate_hz == recording.rate_hz
    assert np.array_equal(back.samples, recording.samples)


@pytest.mark.parametrize("snr_db", NOISE_RANGE_DB)
def test_bearing_is_found_through_the_whole_range_of_noise(snr_db):
    heard = hear_bearing(synthetic(Truth.BEARING, 1, snr_db=snr_db), parts_hz={"outer ring": 107.0})

    assert heard.hits[0].match is Match.FOUND
