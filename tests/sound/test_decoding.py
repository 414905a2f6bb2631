"""One channel comes out as numbers, or the file is refused; nothing else happens."""

import io
import random
import tracemalloc

import numpy as np
import pytest
import soundfile

from findings.sound.decoding import decode
from findings.sound.header import Limits, Unusable
from tests.sound.files import data_chunk, fmt_chunk, plain, riff, written

VALUES = np.random.default_rng(1).uniform(-1, 1, (40_000, 2))
BROKEN_FILES = 10_000
SMALL = Limits(frames=200_000, bytes=1_000_000)


def code_of(data, **more):
    with pytest.raises(Unusable) as caught:
        decode(io.BytesIO(data), **more)
    return caught.value.reason.code


class TestDecode:
    @pytest.mark.parametrize(
        ("form", "subtype"),
        [
            ("WAV", "PCM_U8"),
            ("WAV", "PCM_16"),
            ("WAV", "PCM_24"),
            ("WAV", "PCM_32"),
            ("WAV", "FLOAT"),
            ("WAV", "DOUBLE"),
            ("WAVEX", "PCM_24"),
            ("FLAC", "PCM_S8"),
            ("FLAC", "PCM_16"),
            ("FLAC", "PCM_24"),
        ],
    )
    @pytest.mark.parametrize("channel", [1, 2])
    def test_agrees_with_libsndfile(self, form, subtype, channel):
        data = written(VALUES, 16000, form, subtype)
        theirs, rate = soundfile.read(io.BytesIO(data), dtype="float64")

        ours = decode(io.BytesIO(data), channel)

        assert ours.rate_hz == rate
        np.testing.assert_allclose(ours.samples, theirs[:, channel - 1], atol=6e-8)

    @pytest.mark.parametrize("channel", [0, 3, -1])
    def test_refuses_a_channel_that_is_not_there(self, channel):
        assert code_of(written(VALUES), channel=channel) == "channel"

    @pytest.mark.parametrize("value", [np.nan, np.inf, 1e30])
    def test_refuses_samples_that_are_no_numbers(self, value):
        samples = np.array([0.0, value], dtype="<f4")

        assert code_of(riff(fmt_chunk(3, bits=32), data_chunk(samples.tobytes()))) == "not_finite"

    def test_refuses_flac_whose_sum_does_not_fit(self):
        data = bytearray(written(VALUES, 16000, "FLAC"))
        data[8 + 18] ^= 1

        assert code_of(bytes(data)) == "damaged"

    def test_refuses_flac_that_breaks_off(self):
        data = written(VALUES, 16000, "FLAC")

        assert code_of(data[: len(data) // 2]) == "damaged"

    def test_refuses_flac_that_claims_more_than_it_holds(self):
        data = bytearray(written(VALUES, 16000, "FLAC"))
        data[8 + 15] ^= 1

        assert code_of(bytes(data)) == "damaged"

    def test_counts_the_largest_codes_as_clipped(self):
        recording = decode(io.BytesIO(riff(fmt_chunk(), data_chunk(b"\xff\x7f\xfe\x7f\x00\x80"))))

        assert (np.abs(recording.samples) >= recording.clipping_level).tolist() == [True, False, True]


def broken(dice, good):
    """Return a file with a few bytes changed, cut out, doubled or set to extremes."""
    data = bytearray(dice.choice(good))
    for _ in range(dice.randint(1, 4)):
        place = dice.randrange(min(len(data), dice.choice([48, 120, len(data)])))
        match dice.randrange(6):
            case 0:
                data[place] = dice.randrange(256)
            case 1:
                data[place : place + 4] = dice.choice(
                    [b"\xff\xff\xff\xff", b"\0\0\0\0", b"\0\0\0\x80", b"\xff\x7f"]
                )
            case 2:
                del data[place:]
            case 3:
                del data[place : place + dice.randint(1, 9)]
            case 4:
                data[place:place] = data[place : place + dice.randint(1, 40)]
            case 5:
                data[place] ^= 1 << dice.randrange(8)
        if len(data) < 2:
            break
    return bytes(data)


def test_ten_thousand_broken_files_are_read_or_refused_in_bounded_memory():
    dice = random.Random(20)
    short = VALUES[:700]
    good = [
        *(
            written(short, 16000, "WAV", subtype)
            for subtype in ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT")
        ),
        written(short, 16000, "WAVEX", "PCM_24"),
        *(written(short, 16000, "FLAC", subtype) for subtype in ("PCM_S8", "PCM_16", "PCM_24")),
        plain(50),
    ]
    outcomes = {"read": 0, "refused": 0}
    tracemalloc.start()
    for _ in range(BROKEN_FILES):
        try:
            samples = decode(io.BytesIO(broken(dice, good)), limits=SMALL).samples
        except Unusable:
            outcomes["refused"] += 1
        else:
            outcomes["read"] += 1
            assert np.isfinite(samples).all()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert peak < 4 * SMALL.frames + 4_000_000
    assert min(outcomes.values()) > BROKEN_FILES // 20
