"""How an entry is chained: SHA-256 over the previous hash and the entry in canonical JSON."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import Enum
from typing import Any, Final
from uuid import UUID

GENESIS: Final = bytes(32)
"""The previous hash of a site's first entry."""


def plain(value: Any) -> Any:
    """Return a JSON value that reads back the same from any database: no floats in money, UTC times."""
    match value:
        case None | bool() | int() | str() if not isinstance(value, Enum):
            return value
        case Enum():
            return plain(value.value)
        case float():
            # PostgreSQL gives a large whole float back as an integer; write it as one from the start.
            return int(value) if value.is_integer() and abs(value) >= 1e15 else value
        case Decimal() | UUID():
            return str(value)
        case datetime():
            return value.astimezone(UTC).isoformat(timespec="microseconds")
        case date():
            return value.isoformat()
        case Mapping():
            return {str(key): plain(item) for key, item in value.items()}
        case list() | tuple() | set() | frozenset():
            return [plain(item) for item in value]
    message = f"A logbook entry cannot hold {type(value).__name__}."
    raise TypeError(message)


def canonical(entry: Mapping[str, Any]) -> bytes:
    """Return the one byte form of an entry: sorted keys, no spaces, UTF-8."""
    return json.dumps(plain(entry), sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def chained(previous: bytes, entry: Mapping[str, Any]) -> bytes:
    """Return the hash (32 bytes) of an entry behind ``previous``."""
    return hashlib.sha256(previous + canonical(entry)).digest()
