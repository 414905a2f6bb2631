"""The header of a FLAC file, read by hand before the decoder may see it (layout: RFC 9639, from memory)."""

from typing import BinaryIO, Final

from findings.sound.header import Coding, Form, Header, exactly, refuse

MOST_BLOCKS: Final = 128
STREAMINFO: Final = 0
STREAMINFO_BYTES: Final = 34
FORBIDDEN_TYPE: Final = 127
BITS_READ: Final = (8, 16, 24)
SMALLEST_BLOCK: Final = 16
NO_SUM: Final = bytes(16)


def read_flac_header(file: BinaryIO, size: int) -> Header:
    """Return the header of a file that begins with fLaC; refuses one that contradicts itself.

    The length is the one that the header claims; the decoder's work is bounded by it and checked against it.
    """
    position, last, info = 4, False, b""
    for number in range(MOST_BLOCKS):
        head = exactly(file, position, 4)
        last, kind, length = bool(head[0] & 0x80), head[0] & 0x7F, int.from_bytes(head[1:], "big")
        if (kind == STREAMINFO) != (number == 0) or kind == FORBIDDEN_TYPE:
            refuse("contradiction", "The parts of the header are not in the order that a reader needs.")
        if number == 0:
            if length != STREAMINFO_BYTES:
                refuse("contradiction", "The description of the stream has an impossible size.")
            info = exactly(file, position + 4, length)
        position += 4 + length
        if position > size:
            refuse(
                "truncated", "The file ends in the middle of its header. Copy it from the instrument again."
            )
        if last:
            break
    if not last:
        refuse("contradiction", f"The header has more than {MOST_BLOCKS} parts.")
    if position == size:
        refuse("empty", "The file holds no sound.")
    sync = exactly(file, position, 2)
    if sync[0] != 0xFF or sync[1] & 0xFC != 0xF8:
        refuse("damaged", "No sound begins where the header ends: the file is damaged. Copy it again.")
    return _header(info, position)


def _header(info: bytes, offset: int) -> Header:
    """Return the header that the 34 bytes of the stream description stand for."""
    smallest, largest = int.from_bytes(info[0:2], "big"), int.from_bytes(info[2:4], "big")
    if not SMALLEST_BLOCK <= smallest <= largest:
        refuse("contradiction", "The sizes of the coded blocks in the header are impossible.")
    packed = int.from_bytes(info[10:18], "big")
    bits, frames = (packed >> 36 & 0x1F) + 1, packed & (1 << 36) - 1
    if bits not in BITS_READ:
        refuse("bits", f"Samples of {bits} bits aren't read from FLAC; 8, 16 or 24 bits are.")
    if frames == 0:
        refuse("unfinished", "The recorder didn't write how long the recording is. Write the file again.")
    md5 = info[18:34]
    return Header(
        form=Form.FLAC,
        coding=Coding.INTEGER,
        rate_hz=packed >> 44,
        channels=(packed >> 41 & 0x7) + 1,
        bits=bits,
        significant_bits=bits,
        frames=frames,
        data_offset=offset,
        md5=b"" if md5 == NO_SUM else md5,
    )
