"""Ids that sort by the time they were made (UUID version 7, RFC 9562 section 5.7)."""

from __future__ import annotations

import secrets
import threading
import time
import uuid

_lock = threading.Lock()
_last_ns = 0
# 12 bits below the millisecond hold its fraction (RFC 9562 section 6.2, method 3).
_NS_PER_STEP = 1_000_000 / 4096


def uuid7() -> uuid.UUID:
    """Return a new id, greater than every id made before it in this process."""
    global _last_ns  # noqa: PLW0603 - one clock per process is the point
    with _lock:
        stamp_ns = max(time.time_ns(), _last_ns + 245)
        _last_ns = stamp_ns
    milliseconds, rest_ns = divmod(stamp_ns, 1_000_000)
    fraction = int(rest_ns / _NS_PER_STEP)
    value = (milliseconds & 0xFFFF_FFFF_FFFF) << 80
    value |= 0x7 << 76 | fraction << 64 | 0b10 << 62 | secrets.randbits(62)
    return uuid.UUID(int=value)
