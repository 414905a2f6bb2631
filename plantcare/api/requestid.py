"""The id of a request: accepted or made here, returned, and bound to every log line."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from contextvars import ContextVar

import structlog
from django.http import HttpRequest
from django.http.response import HttpResponseBase

HEADER = "X-Request-ID"
ACCEPTED = re.compile(r"[A-Za-z0-9._-]{1,64}")

_current: ContextVar[str] = ContextVar("plantcare_request_id", default="")


def current_request_id() -> str:
    """Return the id of the request that is being answered, or an empty text outside of one."""
    return _current.get()


def accepted_or_new(offered: str) -> str:
    """Return the offered id when it is harmless in a header and a log line, else a new one."""
    return offered if ACCEPTED.fullmatch(offered) else uuid.uuid4().hex


class RequestIdMiddleware:
    """Bind the request id for the time of one request; stands first in MIDDLEWARE."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        request_id = accepted_or_new(request.headers.get(HEADER, ""))
        token = _current.set(request_id)
        structlog.contextvars.bind_contextvars(request_id=request_id)
        try:
            response = self.get_response(request)
        finally:
            structlog.contextvars.unbind_contextvars("request_id")
            _current.reset(token)
        response.headers[HEADER] = request_id
        return response
