"""Refusals and their one form on the wire: RFC 9457 problem details.

A room raises a subclass of :class:`Refusal`, defined beside the function that raises it::

    class AlreadyClosed(Conflict):
        code = "already_closed"
        title = "The finding is closed."

    raise AlreadyClosed(f"Closed at {closed_at:%H:%M}.", errors=[FieldError("/state", "closed", "…")])

Everything else that can go wrong in a request is turned into a Refusal by
``plantcare.api.failures``. No text of an unexpected exception is ever sent.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any, ClassVar

from django.http import HttpRequest, HttpResponse

from plantcare.api.requestid import current_request_id

CONTENT_TYPE = "application/problem+json"
TYPE_PAGE = "/api/v1/problems"


@dataclass(frozen=True, slots=True)
class FieldError:
    """One wrong member: a JSON pointer into the body (or ``?name`` of the query), a code, a text."""

    pointer: str
    code: str
    detail: str


class Refusal(Exception):
    """Say no in a form that the caller can act on; subclasses fix status, code and title.

    ``headers`` go on the answer; further keyword arguments become extension members of the
    problem (RFC 9457 section 3.2), so they must be JSON values.
    """

    status: ClassVar[int] = 409
    code: str = "conflict"
    title: str = "The request conflicts with the present state."

    def __init__(
        self,
        detail: str = "",
        *,
        code: str = "",
        title: str = "",
        errors: Iterable[FieldError] = (),
        headers: Mapping[str, str] | None = None,
        **members: Any,
    ) -> None:
        self.code = code or type(self).code
        self.title = title or type(self).title
        self.detail = detail or self.title
        self.errors = list(errors)
        self.headers = dict(headers or {})
        self.members = members
        super().__init__(self.detail)

    def body(self, instance: str = "") -> dict[str, Any]:
        """Return the members of the problem document."""
        document: dict[str, Any] = {
            "type": f"{TYPE_PAGE}#{self.code}",
            "title": self.title,
            "status": self.status,
            "detail": self.detail,
            "instance": instance,
            "code": self.code,
            "errors": [asdict(error) for error in self.errors],
            "request_id": current_request_id(),
        }
        return {**document, **{name: value for name, value in self.members.items() if name not in document}}


class Invalid(Refusal):
    """The request is malformed or a value in it is."""

    status = 400
    code = "invalid"
    title = "A value is missing or wrong."


class NotSignedIn(Refusal):
    """Nobody known is asking."""

    status = 401
    code = "not_signed_in"
    title = "Sign in or send an API key."


class Forbidden(Refusal):
    """The site is known to the caller, the right is missing."""

    status = 403
    code = "right_missing"
    title = "You don't hold the right for this on this site."


class PersonRequired(Forbidden):
    """A decision that a person answers for, at a log-in."""

    code = "person_required"
    title = "This takes a person at a log-in; a key can't decide it."


class NotFound(Refusal):
    """Unknown and hidden things answer with the same words."""

    status = 404
    code = "not_found"
    title = "Not found."


class MethodRefused(Refusal):
    """The address exists, the method doesn't."""

    status = 405
    code = "method_not_allowed"
    title = "This address doesn't answer that method."


class NotAcceptable(Refusal):
    """No offered form of the answer is accepted by the caller."""

    status = 406
    code = "not_acceptable"
    title = "Answers are given as application/json."


class Conflict(Refusal):
    """The act doesn't fit the present state."""


class PreconditionFailed(Refusal):
    """The caller saw an older version."""

    status = 412
    code = "version_stale"
    title = "It was changed meanwhile."


class TooLarge(Refusal):
    """The body is larger than the door takes."""

    status = 413
    code = "too_large"
    title = "The request is too large."


class MediaTypeRefused(Refusal):
    """The body is in a form that the door doesn't read."""

    status = 415
    code = "media_type"
    title = "This address doesn't read that media type."


class Unprocessable(Refusal):
    """Well formed, but it can't be done as asked."""

    status = 422
    code = "unprocessable"
    title = "The request is well formed but can't be done as asked."


class PreconditionRequired(Refusal):
    """A guarded write came without the version it was made from."""

    status = 428
    code = "if_match_required"
    title = "Send If-Match with the ETag that you last read."


class TooMany(Refusal):
    """The caller asks too often."""

    status = 429
    code = "too_many_requests"
    title = "Too many requests; try again later."


class Broken(Refusal):
    """A bug; nothing about it is told."""

    status = 500
    code = "internal_error"
    title = "Something failed on our side."


class Unavailable(Refusal):
    """A part that the answer needs is away; nothing was stored."""

    status = 503
    code = "unavailable"
    title = "Not stored; a part of the service is away. Keep it and send it again."

    def __init__(self, detail: str = "", *, retry_after_s: int = 5, **rest: Any) -> None:
        headers = {"Retry-After": str(retry_after_s), **(rest.pop("headers", None) or {})}
        super().__init__(detail, headers=headers, **rest)


class OutcomeUnknown(Unavailable):
    """The database went away while the act was under way: it may have been stored just before."""

    code = "outcome_unknown"
    title = "It isn't known whether this was stored: a part of the service went away meanwhile."


# Rooms add to this while they are imported: constraint name -> maker of the refusal.
constraint_refusals: dict[str, Callable[[], Refusal]] = {}


def pointer(*parts: str | int) -> str:
    """Return the JSON pointer (RFC 6901) of the parts; no parts name the whole document."""
    escaped = (str(part).replace("~", "~0").replace("/", "~1") for part in parts)
    return "".join(f"/{part}" for part in escaped)


def problem_response(refusal: Refusal, request: HttpRequest | None = None) -> HttpResponse:
    """Return the refusal as an HTTP answer."""
    instance = request.path if request is not None else ""
    response = HttpResponse(
        json.dumps(refusal.body(instance), ensure_ascii=False, default=str),
        content_type=CONTENT_TYPE,
        status=refusal.status,
    )
    for name, value in refusal.headers.items():
        response.headers[name] = value
    response.headers.setdefault("Cache-Control", "no-store")
    return response
