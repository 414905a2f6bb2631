"""Headers are read by hand and believed only where they agree with themselves and with the file."""

import io

import numpy as np
import pytest

from findings.sound.container import read_header
from findings.sound.header import Coding, Form, Limits, Unusable
from tests.sound.files import data_chunk, extension, fmt_chunk, plain, riff, written


def by_code(value):
    return value if isinstance(value, str) else ""


def header(data, **limits):
    return read_header(io.BytesIO(data), Limits(**limits))


def refusal(data, **limits):
    with pytest.raises(Unusable) as caught:
        header(data, **limits)
    return caught.value.reason


class TestWav:
    @pytest.mark.parametrize(
        ("subtype", "coding", "bits"),
        [
            ("PCM_U8", Coding.INTEGER, 8),
            ("PCM_16", Coding.INTEGER, 16),
            ("PCM_24", Coding.INTEGER, 24),
            ("PCM_32", Coding.INTEGER, 32),
            ("FLOAT", Coding.FLOAT, 32),
            ("DOUBLE", Coding.FLOAT, 64),
        ],
    )
    @pytest.mark.parametrize("form", ["WAV", "WAVEX"])
    def test_is_read_as_another_program_wrote_it(self, form, subtype, coding, bits):
        read = header(written(np.zeros((501, 3)), 48000, form, subtype))

        assert (read.coding, read.bits, read.channels, read.rate_hz, read.frames) == (
            coding,
            bits,
            3,
            48000,
            501,
        )

    def test_skips_parts_that_it_does_not_know(self):
        note = b"LIST" + (3).to_bytes(4, "little") + b"abc\0"

        assert header(riff(note, fmt_chunk(), note, data_chunk(bytes(32)))).frames == 16

    def test_tells_the_significant_bits_of_the_extended_form(self):
        form = fmt_chunk(0xFFFE, bits=24, extra=extension(significant=20))

        assert header(riff(form, data_chunk(bytes(48)))).significant_bits == 20

    def test_may_lack_the_last_padding_byte(self):
        assert header(plain(17, bits=8)[:-1]).frames == 17

    def test_may_be_followed_by_something_else(self):
        assert header(plain() + b"TAG and more").frames == 16

    @pytest.mark.parametrize(
        ("data", "code"),
        [
            (plain()[:20], "truncated"),
            (plain()[:-1], "truncated"),
            (riff(fmt_chunk(), data_chunk(bytes(32), size=2**31)), "truncated"),
            (riff(fmt_chunk(), data_chunk(bytes(32)), size=2**31), "truncated"),
            (riff(fmt_chunk(), data_chunk(bytes(32)), size=0xFFFFFFFF), "unfinished"),
            (riff(fmt_chunk(), data_chunk(bytes(32)), size=0), "unfinished"),
            (riff(fmt_chunk(), data_chunk(bytes(32), size=0xFFFFFFFF)), "unfinished"),
            (riff(fmt_chunk(), data_chunk(bytes(32)), size=40), "contradiction"),
            (riff(fmt_chunk(), data_chunk(b"")), "empty"),
            (riff(fmt_chunk(), data_chunk(bytes(33))), "contradiction"),
            (riff(fmt_chunk()), "no_sound"),
            (riff(data_chunk(bytes(32)), fmt_chunk()), "no_format"),
            (riff(fmt_chunk(), fmt_chunk(), data_chunk(bytes(32))), "contradiction"),
            (riff(fmt_chunk(size=17), data_chunk(bytes(32))), "no_sound"),
            (riff(fmt_chunk(size=10**9), data_chunk(bytes(32))), "contradiction"),
            (riff(fmt_chunk(size=8), data_chunk(bytes(32))), "contradiction"),
            (riff(fmt_chunk(channels=0), data_chunk(bytes(32))), "contradiction"),
            (riff(fmt_chunk(block=4), data_chunk(bytes(32))), "contradiction"),
            (riff(fmt_chunk(byte_rate=1), data_chunk(bytes(32))), "contradiction"),
            (riff(fmt_chunk(bits=12), data_chunk(bytes(32))), "bits"),
            (riff(fmt_chunk(3, bits=16), data_chunk(bytes(32))), "bits"),
            (riff(fmt_chunk(7, bits=8), data_chunk(bytes(32))), "lossy"),
            (riff(fmt_chunk(0x55, bits=16), data_chunk(bytes(32))), "lossy"),
            (riff(fmt_chunk(0x1234), data_chunk(bytes(32))), "coding"),
            (riff(fmt_chunk(0xFFFE), data_chunk(bytes(32))), "contradiction"),
            (
                riff(fmt_chunk(0xFFFE, extra=extension(significant=17)), data_chunk(bytes(32))),
                "contradiction",
            ),
            (riff(fmt_chunk(0xFFFE, extra=extension(cb=0)), data_chunk(bytes(32))), "contradiction"),
            (
                riff(fmt_chunk(0xFFFE, extra=extension(tail=bytes(14))), data_chunk(bytes(32))),
                "contradiction",
            ),
            (riff(*[b"junk\0\0\0\0"] * 65, fmt_chunk(), data_chunk(bytes(32))), "no_sound"),
            (b"RF64" + plain()[4:], "container"),
            (b"RIFX" + plain()[4:], "container"),
            (b"ID3\x04" + bytes(100), "lossy"),
            (b"\0\0\0\x20ftypM4A " + bytes(20), "lossy"),
            (b"", "not_a_recording"),
            (b"RIFF", "not_a_recording"),
            (b"just some words here", "not_a_recording"),
        ],
        ids=by_code,
    )
    def test_that_lies_or_breaks_off_is_refused(self, data, code):
        reason = refusal(data)

        assert (reason.code, reason.text.endswith(".")) == (code, True)


class TestLimits:
    @pytest.mark.parametrize(
        ("data", "limits", "code"),
        [
            (plain(), {"bytes": 75}, "too_large"),
            (plain(rate=4000), {}, "sample_rate"),
            (plain(rate=1_000_000), {}, "sample_rate"),
            (plain(channels=9), {}, "channels"),
            (plain(80001), {"seconds": 10}, "too_long"),
            (plain(101), {"frames": 100}, "too_long"),
        ],
        ids=by_code,
    )
    def test_hold_before_anything_is_decoded(self, data, limits, code):
        assert refusal(data, **limits).code == code

    def test_let_the_largest_through(self):
        assert header(plain(80000), bytes=160044, seconds=10, frames=80000).seconds == 10


class TestFlac:
    GOOD = written(np.zeros((501, 2)), 48000, "FLAC", "PCM_24")

    def with_info(self, first, replacement):
        return self.GOOD[: 8 + first] + replacement + self.GOOD[8 + first + len(replacement) :]

    def test_is_read_as_another_program_wrote_it(self):
        read = header(self.GOOD)

        assert (read.form, read.bits, read.channels, read.rate_hz, read.frames) == (
            Form.FLAC,
            24,
            2,
            48000,
            501,
        )

    @pytest.mark.parametrize(
        ("first", "replacement", "code"),
        [
            (0, b"\0\0\0\0", "contradiction"),
            (0, b"\x10\x00\x08\x00", "contradiction"),
            (10, b"\0\0\0", "sample_rate"),
            (10, (48000 << 44 | 1 << 41 | 15 << 36).to_bytes(8, "big"), "unfinished"),
            (10, (48000 << 44 | 1 << 41 | 15 << 36 | 2**36 - 1).to_bytes(8, "big"), "too_long"),
            (10, (48000 << 44 | 1 << 41 | 11 << 36 | 501).to_bytes(8, "big"), "bits"),
            (-4, b"\x01", "contradiction"),
            (-4, b"\x00\x00\x00\x23", "contradiction"),
        ],
        ids=by_code,
    )
    def test_that_lies_is_refused(self, first, replacement, code):
        assert refusal(self.with_info(first, replacement)).code == code

    @pytest.mark.parametrize(("length", "code"), [(20, "truncated"), (44, "truncated")])
    def test_that_breaks_off_is_refused(self, length, code):
        assert refusal(self.GOOD[:length]).code == code

    def test_without_sound_is_refused(self):
        assert refusal(self.GOOD[: header(self.GOOD).data_offset]).code == "empty"

    def test_with_endless_parts_is_refused(self):
        assert refusal(b"fLaC\0\0\0\x22" + self.GOOD[8:42] + b"\x01\0\0\0" * 200).code == "contradiction"

    def test_whose_sound_does_not_begin_is_refused(self):
        offset = header(self.GOOD).data_offset

        assert refusal(self.GOOD[:offset] + b"\0\0" + self.GOOD[offset + 2 :]).code == "damaged"
