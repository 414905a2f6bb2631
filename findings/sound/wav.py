"""The header of a WAV file, read by hand: every number in it is checked against the others and the file.

Layout after the published descriptions (IBM and Microsoft, Multimedia Programming Interface and Data
Specifications 1.0, 1991; the extensible format of 2001), from memory.
"""

import struct
from typing import BinaryIO, Final, NamedTuple, NoReturn

from findings.sound.header import Coding, Form, Header, exactly, refuse

MOST_CHUNKS: Final = 64
PCM: Final = 0x0001
IEEE_FLOAT: Final = 0x0003
EXTENSIBLE: Final = 0xFFFE
UNKNOWN_SIZE: Final = 0xFFFFFFFF
SUBFORMAT_TAIL: Final = bytes.fromhex("000000001000800000aa00389b71")
INTEGER_BITS: Final = (8, 16, 24, 32)
FLOAT_BITS: Final = (32, 64)
LOSSY: Final = {
    0x0002: "ADPCM",
    0x0006: "A-law",
    0x0007: "mu-law",
    0x0011: "ADPCM",
    0x0031: "GSM",
    0x0050: "MPEG",
    0x0055: "MP3",
    0x00FF: "AAC",
    0x0161: "WMA",
}


class _Format(NamedTuple):
    """The format chunk, checked in itself."""

    coding: Coding
    channels: int
    rate_hz: int
    bits: int
    significant_bits: int


def read_wav_header(file: BinaryIO, size: int) -> Header:
    """Return the header of a file that begins with RIFF and WAVE; refuses one that contradicts itself.

    Reads the first bytes of at most 64 chunks, so neither time nor memory follow what the header claims.
    """
    (declared,) = struct.unpack("<I", exactly(file, 4, 4))
    if declared in (0, UNKNOWN_SIZE):
        _unfinished()
    end = 8 + declared
    if end > size + 1:  # the last chunk's padding byte is often left out
        _truncated(end - size)
    form, position = None, 12
    for _ in range(MOST_CHUNKS):
        if position + 8 > min(end, size):
            break
        name, length = struct.unpack("<4sI", exactly(file, position, 8))
        body = position + 8
        if name == b"data":
            return _header(form, body, length, min(end, size), size)
        if body + length > min(end, size):
            refuse("contradiction", "A part of the header claims to be larger than the whole file.")
        if name == b"fmt ":
            if form is not None:
                refuse("contradiction", "The header describes the samples twice.")
            form = _format(file, body, length)
        position = body + length + length % 2
    return refuse("no_sound", "The file has a header but no part that holds the sound.")


def _header(form: _Format | None, body: int, length: int, end: int, size: int) -> Header:
    """Return the header once the sound was found."""
    if form is None:
        refuse("no_format", "The sound comes before the description of its samples, so it can't be read.")
    if length == UNKNOWN_SIZE:
        _unfinished()
    if body + length > size:
        _truncated(body + length - size)
    if body + length > end:
        refuse("contradiction", "The sound claims to reach beyond the end that the file itself states.")
    frame = form.channels * form.bits // 8
    if length % frame:
        refuse("contradiction", "The sound doesn't hold a whole number of samples for every channel.")
    return Header(
        form=Form.WAV,
        coding=form.coding,
        rate_hz=form.rate_hz,
        channels=form.channels,
        bits=form.bits,
        significant_bits=form.significant_bits,
        frames=length // frame,
        data_offset=body,
    )


def _format(file: BinaryIO, body: int, length: int) -> _Format:
    """Return the checked description of the samples."""
    if not 16 <= length <= 64:
        refuse("contradiction", "The description of the samples has an impossible size.")
    raw = exactly(file, body, length)
    tag, channels, rate, byte_rate, block, bits = struct.unpack_from("<HHIIHH", raw)
    significant = bits
    if tag == EXTENSIBLE:
        tag, significant = _extension(raw, bits)
    coding = _coding(tag, bits)
    if channels == 0 or block != channels * bits // 8 or byte_rate != rate * block:
        refuse("contradiction", "Channels, bits and bytes a second in the header don't fit together.")
    return _Format(coding, channels, rate, bits, significant)


def _coding(tag: int, bits: int) -> Coding:
    """Return how a sample is written; refuses what isn't read, and compression that loses sound."""
    if tag == PCM and bits in INTEGER_BITS:
        return Coding.INTEGER
    if tag == IEEE_FLOAT and bits in FLOAT_BITS:
        return Coding.FLOAT
    if tag in LOSSY:
        refuse(
            "lossy",
            f"The sound is compressed ({LOSSY[tag]}), which alters peaks and rhythm. Use plain WAV or FLAC.",
        )
    if tag in (PCM, IEEE_FLOAT):
        refuse(
            "bits", f"Samples of {bits} bits aren't read; 8, 16, 24 or 32 bits are, or 32 or 64 bits float."
        )
    return refuse(
        "coding", f"The samples are written in a way that isn't read (tag {tag}). Use plain WAV or FLAC."
    )


def _extension(raw: bytes, bits: int) -> tuple[int, int]:
    """Return the tag and the significant bits of the extensible format."""
    if len(raw) < 40:
        refuse("contradiction", "The header announces an extended description that isn't there.")
    extra, significant, _mask, tag = struct.unpack_from("<HHIH", raw, 16)
    if extra < 22 or raw[26:40] != SUBFORMAT_TAIL or not 1 <= significant <= bits:
        refuse("contradiction", "The extended description of the samples contradicts itself.")
    return tag, significant


def _unfinished() -> NoReturn:
    """Refuse a file whose recorder never wrote the length."""
    refuse("unfinished", "The recorder didn't finish this file: its length is missing. Record it again.")


def _truncated(missing: int) -> NoReturn:
    """Refuse a file that is shorter than its header says."""
    refuse("truncated", f"The file is {missing} bytes shorter than its header says. Copy it again.")
