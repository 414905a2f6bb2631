"""Sending a POST again is harmless: one effect per key, and the same answer every time.

The kept answer is written in the transaction of the effect, so there is never one without the
other. Two requests with one key at the same moment: the second can't get the advisory lock and is
told 409 "still running"; it doesn't wait, because a waiting request holds a worker process.

Kept are answers of 200 to 299 only. A refusal (4xx) leaves no effect, so asking again is harmless,
and the cause (a missing right, a wrong state) may be gone by then; keeping it would pin the caller
to an old no. A failure (5xx) must be tried again by its very meaning.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any, Protocol

from django.db import connection, transaction
from django.http import HttpResponse
from django.http.response import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from plantcare.api.actor import Actor
from plantcare.api.models import IdempotencyKey
from plantcare.api.problems import Conflict, Invalid, Unprocessable
from plantcare.api.renderers import ApiJsonRenderer

HEADER = "Idempotency-Key"
REPLAYED = "Idempotency-Replayed"
KEPT_FOR = timedelta(days=30)
_KEY = re.compile(r"[\x21-\x7e]{1,255}")
_KEPT_HEADERS = ("ETag", "Location")


class KeyMissing(Invalid):
    """A POST that makes something new has to be repeatable."""

    code = "idempotency_key_missing"
    title = "Send an Idempotency-Key: a new UUID for each new thing, the same one when sending again."


class KeyMalformed(Invalid):
    """The key has to fit a header and a column."""

    code = "idempotency_key_malformed"
    title = "An Idempotency-Key is 1 to 255 visible ASCII characters."


class KeyReused(Unprocessable):
    """The key belongs to another request."""

    code = "idempotency_key_reused"
    title = "This Idempotency-Key was used with other content."


class StillRunning(Conflict):
    """The first request with this key has not ended."""

    code = "idempotency_key_running"
    title = "The first request with this Idempotency-Key is still running; ask again."


class _Door(Protocol):
    actor: Actor
    at: datetime
    request: Request

    @property
    def creates(self) -> bool: ...


def once(
    door: _Door, handler: Callable[..., HttpResponseBase], request: Request, *args: Any, **kwargs: Any
) -> HttpResponseBase:
    """Answer through ``handler`` once per key; repeat the kept answer afterwards.

    Raise KeyMissing, KeyMalformed, KeyReused or StillRunning.
    """
    key = request.headers.get(HEADER)
    if key is None:
        if door.creates:
            raise KeyMissing
        return handler(request, *args, **kwargs)
    if not _KEY.fullmatch(key):
        raise KeyMalformed
    place = {
        "principal": door.actor.principal,
        "method": str(request.method),
        "path": request.path[:400],
        "key": key,
    }
    with transaction.atomic():
        _take_turn(place)
        mark = fingerprint(request)
        kept = IdempotencyKey.objects.filter(**place).first()
        if kept is not None and kept.expires_at > door.at:
            return _repeat(kept, mark)
        if kept is not None:
            kept.delete()
        response = handler(request, *args, **kwargs)
        if 200 <= response.status_code < 300:
            _keep(place, mark, response, door)
    return response


def fingerprint(request: Request) -> str:
    """Return SHA-256 of the query and the body: canonical JSON, or the raw parts of an upload."""
    digest = hashlib.sha256(request._request.META.get("QUERY_STRING", "").encode())  # noqa: SLF001
    if request.FILES or not isinstance(request.data, dict | list) or hasattr(request.data, "lists"):
        for part in _parts(request):
            digest.update(part)
    else:
        text = json.dumps(request.data, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
        digest.update(text.encode())
    return digest.hexdigest()


def forget_expired(*, at: datetime, chunk: int = 5_000, most: int = 100_000) -> int:
    """Delete kept answers past their time, in short transactions; return how many."""
    deleted = 0
    while deleted < most:
        rows = IdempotencyKey.objects.filter(expires_at__lte=at).order_by("expires_at")
        ids = list(rows.values_list("pk", flat=True)[:chunk])
        if not ids:
            break
        deleted += IdempotencyKey.objects.filter(pk__in=ids).delete()[0]
    return deleted


def _take_turn(place: dict[str, str]) -> None:
    """Hold the key's advisory lock until the transaction ends, or raise StillRunning.

    The lock comes before the look-up in a statement of its own: the look-up's snapshot then is
    newer than the commit of whoever held the lock before.
    """
    name = hashlib.sha256("\x00".join(place.values()).encode()).digest()[:8]
    number = int.from_bytes(name, "big", signed=True)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [number])
        (held,) = cursor.fetchone()
    if not held:
        raise StillRunning(headers={"Retry-After": "1"})


def _keep(place: dict[str, str], mark: str, response: HttpResponseBase, door: _Door) -> None:
    data = response.data if isinstance(response, Response) else None
    body = ApiJsonRenderer().render(data, renderer_context={"request": door.request})
    IdempotencyKey.objects.create(
        **place,
        fingerprint=mark,
        status=response.status_code,
        response_body=body.decode(),
        response_headers={name: response.headers[name] for name in _KEPT_HEADERS if name in response.headers},
        created_at=door.at,
        expires_at=door.at + KEPT_FOR,
    )


def _repeat(kept: IdempotencyKey, mark: str) -> HttpResponse:
    if kept.fingerprint != mark:
        first = kept.response_headers.get("Location", "")
        detail = f"It was used for {first} with other content." if first else ""
        raise KeyReused(detail)
    response = HttpResponse(kept.response_body, status=kept.status, content_type="application/json")
    for name, value in {**kept.response_headers, REPLAYED: "true"}.items():
        response.headers[name] = value
    return response


def _parts(request: Request) -> Iterator[bytes]:
    fields = request.data if hasattr(request.data, "lists") else {}
    for name, values in sorted(fields.lists()) if fields else ():
        for value in values:
            if not hasattr(value, "chunks"):
                yield f"\x00field\x00{name}\x00{value}".encode(errors="surrogatepass")
    for name, files in sorted(request.FILES.lists()):
        for file in files:
            yield f"\x00file\x00{name}\x00{file.name}\x00{file.size}\x00".encode(errors="surrogatepass")
            yield from file.chunks()
            file.seek(0)
