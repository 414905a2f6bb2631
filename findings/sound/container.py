"""The one way into a recording: size first, then the header, then the limits; no sample is decoded here."""

import os
from typing import BinaryIO, Final

from findings.sound.flac import read_flac_header
from findings.sound.header import DEFAULT_LIMITS, Header, Limits, exactly, refuse, within_limits
from findings.sound.wav import read_wav_header

SHORTEST_BYTES: Final = 12
LOSSY_BEGINNINGS: Final = (
    b"OggS",
    b"ID3",
    b"\xff\xfb",
    b"\xff\xf3",
    b"\xff\xf1",
    b"\x30\x26\xb2\x75",
    b"#!AMR",
)


def read_header(file: BinaryIO, limits: Limits = DEFAULT_LIMITS) -> Header:
    """Return the checked header of a WAV or FLAC file that can be sought in; raises Unusable.

    Costs a few hundred bytes of memory and at most a few hundred small reads, whatever the file claims.
    """
    size = file.seek(0, os.SEEK_END)
    if size > limits.bytes:
        refuse("too_large", f"The file has {size} bytes; at most {limits.bytes} are read.")
    if size < SHORTEST_BYTES:
        refuse("not_a_recording", "The file is too short to be a recording.")
    start = exactly(file, 0, SHORTEST_BYTES)
    if start[:4] == b"RIFF" and start[8:] == b"WAVE":
        return within_limits(read_wav_header(file, size), limits)
    if start[:4] == b"fLaC":
        return within_limits(read_flac_header(file, size), limits)
    if start[:4] in (b"RF64", b"RIFX", b"BW64", b"riff") or start[:4] == b"FORM":
        refuse("container", "This kind of audio file isn't read. Save the recording as plain WAV or FLAC.")
    if start.startswith(LOSSY_BEGINNINGS) or start[4:8] == b"ftyp":
        refuse(
            "lossy",
            "The file looks compressed in a way that alters peaks and rhythm. Record as plain WAV or FLAC.",
        )
    return refuse("not_a_recording", "The file is neither WAV nor FLAC.")
