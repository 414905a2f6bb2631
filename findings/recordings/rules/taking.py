"""What is taken, and under which name it is kept: never the sender's."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from findings.sound.header import DEFAULT_LIMITS, Form

MOST_BYTES: Final = DEFAULT_LIMITS.bytes
LONGEST_S: Final = DEFAULT_LIMITS.seconds
MOST_PER_READING: Final = 20  # judgement: some channels and some tries, not a store of everything
LONGEST_FILE_NAME: Final = 200
PICTURE_ENDING: Final = "svg"
PICTURE_MEDIA: Final = "image/svg+xml"
MEDIA: Final[Mapping[str, str]] = MappingProxyType({Form.WAV: "audio/wav", Form.FLAC: "audio/flac"})
NAMELESS: Final = "recording"


def key_of(sha256: str, ending: str) -> str:
    """Return the name of a file in the store, by what is in it: "ab/cd/abcd….wav"."""
    return f"{sha256[:2]}/{sha256[2:4]}/{sha256}.{ending}"


def shown_name(sent: str) -> str:
    """Return the sender's file name as it can be kept and shown: no path, no control signs, not too long."""
    last = sent.replace("\\", "/").rpartition("/")[2]
    printable = "".join(sign for sign in last if sign.isprintable()).strip()
    return printable[:LONGEST_FILE_NAME] or NAMELESS
