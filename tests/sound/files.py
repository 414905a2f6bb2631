"""Recordings as bytes, written by hand field by field, so that a test can lie in any of them."""

import io
import struct

import numpy as np
import soundfile

GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")


def fmt_chunk(tag=1, channels=1, rate=8000, bits=16, **lies):
    block = lies.get("block", channels * bits // 8)
    byte_rate = lies.get("byte_rate", rate * block)
    body = struct.pack("<HHIIHH", tag, channels, rate, byte_rate % 2**32, block, bits) + lies.get(
        "extra", b""
    )
    return b"fmt " + struct.pack("<I", lies.get("size", len(body))) + body


def extension(tag=1, significant=16, cb=22, tail=GUID_TAIL):
    return struct.pack("<HHIH", cb, significant, 0, tag) + tail


def data_chunk(data, size=None):
    return b"data" + struct.pack("<I", len(data) if size is None else size) + data + b"\0" * (len(data) % 2)


def riff(*chunks, size=None):
    body = b"WAVE" + b"".join(chunks)
    return b"RIFF" + struct.pack("<I", len(body) if size is None else size) + body


def plain(frames=16, **fields):
    form = {"channels": 1, "bits": 16} | fields
    return riff(fmt_chunk(**fields), data_chunk(bytes(frames * form["channels"] * form["bits"] // 8)))


def written(values, rate=16000, form="WAV", subtype="PCM_16"):
    """Return a file as libsndfile writes it."""
    file = io.BytesIO()
    soundfile.write(file, np.asarray(values), rate, format=form, subtype=subtype)
    return file.getvalue()
