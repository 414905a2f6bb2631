"""What a recording says of itself, and the limits that hold before a single sample is decoded."""

from dataclasses import dataclass
from enum import StrEnum
from typing import BinaryIO, Final, NoReturn

from findings.physics.estimate import Reason


class Unusable(ValueError):
    """Raised for a recording that can't be read or judged; ``reason`` holds a stable code and a sentence."""

    def __init__(self, reason: Reason) -> None:
        """Keep the reason."""
        super().__init__(reason.text)
        self.reason = reason


class Form(StrEnum):
    """The containers that are read; neither loses anything."""

    WAV = "wav"
    FLAC = "flac"


class Coding(StrEnum):
    """How a sample is written."""

    INTEGER = "integer"
    FLOAT = "float"


@dataclass(frozen=True, slots=True)
class Limits:
    """What is accepted at all; the defaults are judgement.

    ``frames`` bounds the memory of the decoded channel, four bytes each: 64 MB by default, which is 5 min at
    48 kHz or 83 s at 192 kHz. Below 8000 samples a second there is no band left to analyse.
    """

    bytes: int = 64 * 1024 * 1024
    seconds: float = 300.0
    lowest_rate_hz: int = 8_000
    highest_rate_hz: int = 500_000
    channels: int = 8
    frames: int = 16_000_000


DEFAULT_LIMITS: Final = Limits()


@dataclass(frozen=True, slots=True)
class Header:
    """A checked header: ``bits`` is the room of a sample, ``significant_bits`` the part of it that is used.

    ``data_offset`` is where the samples (WAV) or the coded frames (FLAC) begin; ``md5`` is the FLAC encoder's
    sum over the samples, empty where there is none.
    """

    form: Form
    coding: Coding
    rate_hz: int
    channels: int
    bits: int
    significant_bits: int
    frames: int
    data_offset: int
    md5: bytes = b""

    @property
    def seconds(self) -> float:
        """Return the length."""
        return self.frames / self.rate_hz

    @property
    def frame_bytes(self) -> int:
        """Return how many bytes one sample of every channel takes, undecoded in a WAV file."""
        return self.channels * self.bits // 8


def refuse(code: str, text: str) -> NoReturn:
    """Raise Unusable with a code and a sentence."""
    raise Unusable(Reason(code, text))


def exactly(file: BinaryIO, offset: int, count: int) -> bytes:
    """Return so many bytes from an offset; refuses where the file ends before them."""
    file.seek(offset)
    data = file.read(count)
    if len(data) != count:
        refuse("truncated", "The file ends in the middle of its header. Copy it from the instrument again.")
    return data


def within_limits(header: Header, limits: Limits) -> Header:
    """Return the header; refuses one that asks for more than is accepted."""
    if not limits.lowest_rate_hz <= header.rate_hz <= limits.highest_rate_hz:
        refuse(
            "sample_rate",
            f"The file has {header.rate_hz} samples a second; {limits.lowest_rate_hz} to "
            f"{limits.highest_rate_hz} can be analysed.",
        )
    if not 1 <= header.channels <= limits.channels:
        refuse(
            "channels", f"The file has {header.channels} channels; between 1 and {limits.channels} are read."
        )
    if header.frames < 1:
        refuse("empty", "The file holds no sound.")
    if header.seconds > limits.seconds or header.frames > limits.frames:
        most = min(limits.seconds, limits.frames / header.rate_hz)
        refuse(
            "too_long",
            f"The recording lasts {header.seconds:.0f} s; at {header.rate_hz} samples a second at most "
            f"{most:.0f} s are read. Cut out the part that matters.",
        )
    return header
