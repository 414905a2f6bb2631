"""Recordings for tests that only need a file, made without any numeric library."""

from __future__ import annotations

import io
import itertools
import struct
import wave

_numbers = itertools.count(1)


def wav(seconds: float = 6.0, *, rate: int = 8_000, channels: int = 1, mark: int | None = None) -> bytes:
    """Return a 16-bit WAV file of almost silence; no two are the same unless ``mark`` is."""
    file = io.BytesIO()
    with wave.open(file, "wb") as writer:
        writer.setnchannels(channels)
        writer.setsampwidth(2)
        writer.setframerate(rate)
        first = struct.pack("<i", next(_numbers) if mark is None else mark)
        frames = round(seconds * rate) * channels * 2
        writer.writeframes((first + bytes(frames))[:frames])
    return file.getvalue()
