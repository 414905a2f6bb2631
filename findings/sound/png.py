"""A raster of at most 256 colours as PNG bytes, by hand (PNG specification, W3C, from memory)."""

import struct
import zlib
from collections.abc import Sequence
from typing import Final

SIGNATURE: Final = b"\x89PNG\r\n\x1a\n"
PALETTE_COLOURS: Final = 3
MOST_COLOURS: Final = 256

Colour = tuple[int, int, int]


def palette_png(width: int, height: int, pixels: bytes, palette: Sequence[Colour]) -> bytes:
    """Return a PNG of ``pixels``: one byte each, row by row from the top, numbers of the palette's colours.

    Raises ValueError where size, pixels and palette don't fit together.
    """
    if width < 1 or height < 1 or len(pixels) != width * height:
        msg = "a picture has one byte for every pixel"
        raise ValueError(msg)
    if not 1 <= len(palette) <= MOST_COLOURS or max(pixels) >= len(palette):
        msg = "every pixel numbers a colour of the palette"
        raise ValueError(msg)
    rows = b"".join(b"\0" + pixels[row * width : (row + 1) * width] for row in range(height))
    size = struct.pack(">IIBBBBB", width, height, 8, PALETTE_COLOURS, 0, 0, 0)
    parts = (
        (b"IHDR", size),
        (b"PLTE", b"".join(bytes(colour) for colour in palette)),
        (b"IDAT", zlib.compress(rows, 9)),
        (b"IEND", b""),
    )
    return SIGNATURE + b"".join(_part(name, body) for name, body in parts)


def _part(name: bytes, body: bytes) -> bytes:
    """Return a part with its length and check sum."""
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
