"""Read JSON strictly, before anything else sees it.

Refused: more bytes or levels than the settings allow, anything but UTF-8, a member named twice,
NaN and infinities, the null character and lone surrogates (PostgreSQL stores neither).
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import IO, Any

from django.conf import settings
from rest_framework.parsers import BaseParser

from plantcare.api.problems import FieldError, Invalid, TooLarge, pointer

MAX_BYTES = 2 * 1024 * 1024
MAX_DEPTH = 32


class Malformed(Invalid):
    """The body isn't JSON as RFC 8259 and RFC 7493 (I-JSON) mean it."""

    code = "malformed"
    title = "The body can't be read as JSON."


class ApiJsonParser(BaseParser):
    """The only parser of every door that takes no upload."""

    media_type = "application/json"

    def parse(
        self,
        stream: IO[bytes],
        media_type: str | None = None,  # noqa: ARG002 - the framework's signature
        parser_context: Mapping[str, Any] | None = None,  # noqa: ARG002
    ) -> Any:
        """Return the document, or raise Malformed or TooLarge."""
        limit = getattr(settings, "PLANTCARE_MAX_JSON_BYTES", MAX_BYTES)
        raw = stream.read(limit + 1)
        if len(raw) > limit:
            msg = f"A JSON body has at most {limit} bytes."
            raise TooLarge(msg)
        return loads(raw)


def loads(raw: bytes | str, max_depth: int = MAX_DEPTH) -> Any:
    """Return the strictly read JSON document; raise Malformed."""
    try:
        text = raw.decode("utf-8") if isinstance(raw, bytes) else raw
    except UnicodeDecodeError:
        msg = "The body isn't UTF-8."
        raise Malformed(msg) from None
    try:
        document = json.loads(
            text, object_pairs_hook=_members, parse_constant=_no_constant, parse_float=_finite
        )
    except json.JSONDecodeError as exc:
        msg = f"{exc.msg} at line {exc.lineno}, column {exc.colno}."
        raise Malformed(msg) from None
    except RecursionError:
        raise _too_deep(max_depth) from None
    except ValueError:  # Python refuses whole numbers of more than 4300 digits
        msg = "A number is too long."
        raise Malformed(msg) from None
    check_values(document, max_depth)
    return document


def check_values(document: Any, max_depth: int = MAX_DEPTH) -> None:
    """Raise Malformed for texts that can't be stored and for too many levels."""
    waiting: list[tuple[Any, tuple[str | int, ...]]] = [(document, ())]
    while waiting:
        value, at = waiting.pop()
        if isinstance(value, str):
            _check_text(value, at)
        elif isinstance(value, dict | list):
            if len(at) >= max_depth:
                raise _too_deep(max_depth)
            pairs = value.items() if isinstance(value, dict) else enumerate(value)
            for name, inner in pairs:
                if isinstance(name, str):
                    _check_text(name, at)
                if isinstance(inner, str | dict | list):
                    waiting.append((inner, (*at, name)))


def storable(text: str) -> bool:
    """Tell whether PostgreSQL can keep the text."""
    return "\x00" not in text and (text.isascii() or not any("\ud800" <= c <= "\udfff" for c in text))


def _check_text(text: str, at: tuple[str | int, ...]) -> None:
    if not storable(text):
        where = pointer(*at) if all(storable(str(part)) for part in at) else ""
        detail = "Holds a null character or half of a surrogate pair."
        raise Malformed(errors=[FieldError(where, "character_refused", detail)])


def _too_deep(max_depth: int) -> Malformed:
    return Malformed(f"More than {max_depth} levels.", code="too_deep")


def _members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in members if names.count(name) > 1)
        msg = f"The member {twice[:80]!r} appears twice."
        raise Malformed(msg, code="duplicate_member")
    return members


def _no_constant(name: str) -> Any:
    msg = f"{name} is not JSON."
    raise Malformed(msg)


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        msg = f"The number {text[:40]} is too large."
        raise Malformed(msg)
    return number
