"""Answer with a file's bytes, or the part of them that was asked for (RFC 9110, section 14)."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import IO, NamedTuple

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.utils.http import parse_etags
from rest_framework.request import Request

from plantcare.api.problems import Refusal

CHUNK_BYTES = 64 * 1024
_ONE_RANGE = re.compile(r"bytes\s*=\s*(\d{0,18})\s*-\s*(\d{0,18})\s*", re.IGNORECASE)

SAFE_HEADERS: Mapping[str, str] = {
    # What was sent by people is shown by nothing: neither guessed at, nor run, nor framed.
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "sandbox; default-src 'none'",
    "Cross-Origin-Resource-Policy": "same-origin",
}


class RangeOutside(Refusal):
    """No byte of the file lies in the range."""

    status = 416
    code = "range_outside"
    title = "The file ends before this range."


class Part(NamedTuple):
    """Bytes of a file, the first and the last of them."""

    first: int
    last: int

    @property
    def length(self) -> int:
        """Return how many."""
        return self.last - self.first + 1


def asked_part(value: str, size: int) -> Part | None:
    """Return the part that a Range header asks for; None for the whole. Raises RangeOutside.

    Several ranges at once, and what can't be read, are answered with the whole, as the standard allows.
    """
    match = _ONE_RANGE.fullmatch(value.strip())
    if match is None:
        return None
    first, last = match.groups()
    if not first and not last:
        return None
    if not first:
        part = Part(max(0, size - int(last)), size - 1) if int(last) else None
    else:
        part = Part(int(first), min(int(last) if last else size - 1, size - 1))
        if last and int(last) < int(first):
            return None
    if part is None or part.first > part.last:
        raise RangeOutside(headers={"Content-Range": f"bytes */{size}"})
    return part


def is_unchanged(request: HttpRequest | Request, etag: str) -> bool:
    """Tell whether If-None-Match names the present bytes."""
    sent = request.headers.get("If-None-Match", "")
    return bool(sent) and bool({"*", etag, f"W/{etag}"} & set(parse_etags(sent)))


def part_of(request: HttpRequest | Request, size: int, etag: str) -> Part | None:
    """Return the part that a request asks for; a part of an older file (If-Range) is not given."""
    asked = request.headers.get("Range", "")
    if not asked or request.headers.get("If-Range", etag) != etag:
        return None
    return asked_part(asked, size)


def file_answer(
    file: IO[bytes], part: Part | None, *, size: int, content_type: str, headers: Mapping[str, str]
) -> HttpResponseBase:
    """Return the bytes in pieces of 64 kB; the file is closed when they are sent."""
    given = part or Part(0, size - 1)
    response = StreamingHttpResponse(
        _pieces(file, given), status=200 if part is None else 206, content_type=content_type
    )
    told = {"Accept-Ranges": "bytes", "Content-Length": str(given.length), **SAFE_HEADERS, **headers}
    if part is not None:
        told["Content-Range"] = f"bytes {part.first}-{part.last}/{size}"
    for name, value in told.items():
        response.headers[name] = value
    return response


def unchanged(etag: str) -> HttpResponse:
    """Return 304: the caller's copy still holds."""
    return HttpResponse(status=304, headers={"ETag": etag})


def _pieces(file: IO[bytes], part: Part) -> Iterator[bytes]:
    with file:
        file.seek(part.first)
        left = part.length
        while left > 0:
            piece = file.read(min(CHUNK_BYTES, left))
            if not piece:
                return
            left -= len(piece)
            yield piece
