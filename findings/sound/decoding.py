"""One channel of a recording as numbers, block by block: memory follows the limits, not the file."""

import hashlib
from dataclasses import dataclass
from typing import BinaryIO, Final, NoReturn

import numpy as np
import soundfile
from numpy.typing import NDArray

from findings.sound.container import read_header
from findings.sound.header import DEFAULT_LIMITS, Coding, Form, Header, Limits, refuse

Samples = NDArray[np.float32]

BLOCK_FRAMES: Final = 16_384
LARGEST_VALUE: Final = 1e6
FLOAT_STEP_BITS: Final = 24


@dataclass(frozen=True, slots=True)
class Recording:
    """Samples of one channel, 1.0 at full scale, with what clipping is judged by.

    ``bits`` is how finely the samples were written. Shape of ``samples``: one axis, at least one sample.
    """

    samples: Samples
    rate_hz: int
    bits: int = 16

    @property
    def seconds(self) -> float:
        """Return the length."""
        return len(self.samples) / self.rate_hz

    @property
    def clipping_level(self) -> float:
        """Return the value from which a sample counts as clipped: the largest one that could be written."""
        return 1.0 - 1.5 * 2.0 ** (1 - min(self.bits, FLOAT_STEP_BITS))


def decode(file: BinaryIO, channel: int = 1, limits: Limits = DEFAULT_LIMITS) -> Recording:
    """Return one channel, counted from 1, of a WAV or FLAC file that can be sought in; raises Unusable.

    Memory: four bytes for each sample of the channel and a few blocks; the header's limits hold first.
    """
    header = read_header(file, limits)
    if not 1 <= channel <= header.channels:
        refuse("channel", f"The file has {header.channels} channels; there is no channel {channel}.")
    samples = (_wav if header.form is Form.WAV else _flac)(file, header, channel - 1)
    return Recording(samples, header.rate_hz, header.significant_bits)


def _wav(file: BinaryIO, header: Header, channel: int) -> Samples:
    """Return a channel of a WAV file whose header was checked."""
    samples = np.empty(header.frames, dtype=np.float32)
    file.seek(header.data_offset)
    for start in range(0, header.frames, BLOCK_FRAMES):
        count = min(BLOCK_FRAMES, header.frames - start)
        raw = file.read(count * header.frame_bytes)
        if len(raw) != count * header.frame_bytes:
            refuse("truncated", "The file ended while it was read. Copy it again.")
        samples[start : start + count] = _numbers(raw, header)[channel :: header.channels]
    return samples


def _numbers(raw: bytes, header: Header) -> NDArray[np.float64]:
    """Return the samples of every channel in turn, 1.0 at full scale."""
    if header.coding is Coding.FLOAT:
        with np.errstate(invalid="ignore"):  # a signalling NaN would warn; it's refused below
            values = np.frombuffer(raw, dtype=f"<f{header.bits // 8}").astype(np.float64)
        if not np.isfinite(values).all() or np.abs(values).max() > LARGEST_VALUE:
            refuse("not_finite", "The recording holds samples that are no sensible numbers.")
        return values
    if header.bits == 8:  # the only width that WAV writes without a sign
        return (np.frombuffer(raw, dtype=np.uint8).astype(np.float64) - 128.0) / 128.0
    if header.bits == 24:
        parts = np.frombuffer(raw, dtype=np.uint8).reshape(-1, 3)
        wide = np.zeros((len(parts), 4), dtype=np.uint8)
        wide[:, 1:] = parts
        return wide.view("<i4")[:, 0].astype(np.float64) / 2.0**31
    return np.frombuffer(raw, dtype=f"<i{header.bits // 8}").astype(np.float64) / 2.0 ** (header.bits - 1)


def _flac(file: BinaryIO, header: Header, channel: int) -> Samples:
    """Return a channel of a FLAC file whose header was checked; the encoder's own sum is checked as well."""
    samples = np.empty(header.frames, dtype=np.float32)
    total = hashlib.md5(usedforsecurity=False)
    file.seek(0)
    try:
        with soundfile.SoundFile(file) as stream:
            if (stream.samplerate, stream.channels, stream.frames) != (
                header.rate_hz,
                header.channels,
                header.frames,
            ):
                _damaged()
            for start in range(0, header.frames, BLOCK_FRAMES):
                count = min(BLOCK_FRAMES, header.frames - start)
                block = stream.read(count, dtype="int32", always_2d=True)
                if len(block) != count:
                    _damaged()
                values = block >> (32 - header.bits)
                total.update(_little_endian(values, header.bits))
                samples[start : start + count] = values[:, channel] / 2.0 ** (header.bits - 1)
    except (soundfile.SoundFileError, OSError):
        _damaged()
    if header.md5 and total.digest() != header.md5:
        _damaged()
    return samples


def _little_endian(values: NDArray[np.int32], bits: int) -> bytes:
    """Return the samples as the encoder summed them: signed, lowest byte first, no byte more than needed."""
    parts = np.ascontiguousarray(values, dtype="<i4").view(np.uint8).reshape(-1, 4)
    return parts[:, : bits // 8].tobytes()


def _damaged() -> NoReturn:
    """Refuse a FLAC file whose sound isn't what its header says."""
    refuse("damaged", "The sound in the file is damaged or isn't what its header says. Copy it again.")
