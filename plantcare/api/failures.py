"""Turn whatever is raised in a request into one problem document, telling no inner detail."""

from __future__ import annotations

import logging
import math
import sys
from collections.abc import Iterator, Mapping
from typing import Any

from django.core.exceptions import (
    PermissionDenied,
    RequestDataTooBig,
    SuspiciousOperation,
    ValidationError,
)
from django.db import DataError, IntegrityError, InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from psycopg.errors import ConnectionTimeout
from rest_framework import exceptions as drf
from rest_framework.views import set_rollback

from plantcare.api.problems import (
    Broken,
    Conflict,
    FieldError,
    Forbidden,
    Invalid,
    MediaTypeRefused,
    MethodRefused,
    NotAcceptable,
    NotFound,
    NotSignedIn,
    OutcomeUnknown,
    Refusal,
    TooLarge,
    TooMany,
    Unavailable,
    constraint_refusals,
    pointer,
    problem_response,
)

logger = logging.getLogger(__name__)

API_PREFIX = "/api/"
_BUSY_STATES = {"55P03": "lock_timeout", "40P01": "deadlock", "40001": "serialization"}
# Ended by an administrator or by the crash of another session (class 57), or lost on the way (class 08).
_CUT_STATES = {"57P01", "57P02", "08003", "08006", "08007"}
_NEVER_CONNECTED = (ConnectionTimeout,)
SAFE = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
HOW_TO_REPEAT = (
    "Send it again with the same Idempotency-Key (a reading: the same client_id): it is done once, and the "
    "answer tells what became of it. Without a key, look first whether it was done."
)
_VALUE_STATES = {"23514", "23502"}  # check and not-null violations (PostgreSQL manual, appendix A)


def answer_exception(exc: Exception, context: Mapping[str, Any]) -> HttpResponse:
    """Return the problem for an exception of a view (REST_FRAMEWORK["EXCEPTION_HANDLER"])."""
    set_rollback()
    request = context.get("request")
    http_request: HttpRequest | None = getattr(request, "_request", request)
    refusal = refusal_of(exc)
    if http_request is not None and http_request.method not in SAFE and was_cut(exc):
        refusal = OutcomeUnknown(HOW_TO_REPEAT)
    if isinstance(refusal, Broken):
        logger.error("unexpected exception in a view", exc_info=exc)
    elif isinstance(refusal, Unavailable):
        logger.warning("unavailable: %s", type(exc).__name__)
    return problem_response(refusal, http_request)


def was_cut(exc: BaseException) -> bool:
    """Tell whether a standing connection was lost: what was under way may have been stored just before.

    A connection that could not be had at all, or a statement refused over a sound one, stored nothing.
    """
    if not isinstance(exc, (OperationalError, InterfaceError)):
        return False
    state = getattr(exc.__cause__, "sqlstate", None)
    if state is not None:
        return state in _CUT_STATES
    return not isinstance(exc.__cause__, _NEVER_CONNECTED) and "connection failed" not in str(exc)


def refusal_of(exc: BaseException) -> Refusal:
    """Return the refusal that stands for an exception; an unknown one is a bug (500)."""
    if isinstance(exc, Refusal):
        return exc
    if isinstance(exc, drf.APIException):
        return _of_framework(exc)
    if isinstance(exc, (IntegrityError, OperationalError, InterfaceError, DataError)):
        return _of_database(exc)
    return _of_django(exc)


def _of_django(exc: BaseException) -> Refusal:
    if isinstance(exc, Http404):
        return NotFound()
    if isinstance(exc, PermissionDenied):
        return Forbidden(code="forbidden", title="This isn't allowed.")
    if isinstance(exc, RequestDataTooBig):
        return TooLarge()
    if isinstance(exc, SuspiciousOperation):
        return Invalid("The request was refused.", code="bad_request")
    if isinstance(exc, ValidationError):
        return Invalid(errors=list(_django_errors(exc)))
    return Broken("Something failed on our side; quote the request id. Nothing was changed.")


def _of_framework(exc: drf.APIException) -> Refusal:
    if isinstance(exc, drf.ValidationError):
        return Invalid(errors=list(flatten(exc.get_full_details())))
    if isinstance(exc, (drf.NotAuthenticated, drf.AuthenticationFailed)):
        code = "not_signed_in" if isinstance(exc, drf.NotAuthenticated) else "sign_in_failed"
        offer = getattr(exc, "auth_header", None) or 'Bearer realm="plantcare"'
        return NotSignedIn(code=code, headers={"WWW-Authenticate": offer})
    if isinstance(exc, drf.Throttled):
        wait_s = max(1, math.ceil(getattr(exc, "wait", None) or 1))
        return TooMany(f"Busy; try again in {wait_s} s.", headers={"Retry-After": str(wait_s)})
    if isinstance(exc, drf.PermissionDenied):
        return Forbidden(str(exc.detail), code="forbidden", title="This isn't allowed.")
    if isinstance(exc, drf.ParseError):
        return Invalid(str(exc.detail), code="malformed", title="The body can't be read.")
    plain: dict[type[drf.APIException], type[Refusal]] = {
        drf.MethodNotAllowed: MethodRefused,
        drf.UnsupportedMediaType: MediaTypeRefused,
        drf.NotAcceptable: NotAcceptable,
        drf.NotFound: NotFound,
    }
    return next((new() for old, new in plain.items() if isinstance(exc, old)), Broken())


def _of_database(exc: Exception) -> Refusal:
    if isinstance(exc, DataError):
        return Invalid("A value is outside of what can be stored.", code="value_out_of_range")
    cause = exc.__cause__
    state = getattr(cause, "sqlstate", None) or ""
    if isinstance(exc, IntegrityError):
        name = getattr(getattr(cause, "diag", None), "constraint_name", None)
        if name in constraint_refusals:
            return constraint_refusals[name]()
        if state in _VALUE_STATES:
            return Invalid("A value is refused by a rule of the records.", code="value_refused")
        return Conflict("This conflicts with something already stored.")
    if state in _BUSY_STATES:
        return Unavailable("Busy; nothing was stored. Send it again.", code="busy", retry_after_s=1)
    return Unavailable()


def flatten(details: Any, at: tuple[str | int, ...] = ()) -> Iterator[FieldError]:
    """Yield one FieldError per message of a nested validation error, with its JSON pointer."""
    if _is_message(details):
        yield FieldError(pointer(*at), str(details["code"]), str(details["message"]))
    elif isinstance(details, Mapping):
        for name, inner in details.items():
            here = at if name == "non_field_errors" else (*at, name)
            yield from flatten(inner, here)
    elif isinstance(details, list):
        for index, inner in enumerate(details):
            yield from flatten(inner, at if _is_message(inner) else (*at, index))


def _is_message(details: Any) -> bool:
    """Tell a message apart from a serializer whose members are named message and code."""
    if not isinstance(details, Mapping) or set(details) != {"message", "code"}:
        return False
    return isinstance(details["message"], str)


def _django_errors(exc: ValidationError) -> Iterator[FieldError]:
    by_name = exc.error_dict if hasattr(exc, "error_dict") else {"__all__": exc.error_list}
    for name, errors in by_name.items():
        where = "" if name == "__all__" else pointer(name)
        for error in errors:
            yield FieldError(where, error.code or "invalid", " ".join(error.messages))


def is_api(request: HttpRequest) -> bool:
    """Tell whether the caller expects problem documents rather than pages."""
    return request.path.startswith(API_PREFIX)


def _page_or_problem(request: HttpRequest, refusal: Refusal) -> HttpResponse:
    if is_api(request):
        return problem_response(refusal, request)
    template = "500.html" if refusal.status >= 500 else f"{refusal.status}.html"
    response = render(request, template, {"refusal": refusal}, status=refusal.status)
    for name, value in refusal.headers.items():
        response.headers[name] = value
    return response


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Answer as Django's handler400."""
    refusal = refusal_of(exception) if exception is not None else Invalid(code="bad_request")
    if refusal.status >= 500:
        refusal = Invalid("The request was refused.", code="bad_request")
    return _page_or_problem(request, refusal)


def permission_denied(request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
    """Answer as Django's handler403."""
    return _page_or_problem(request, Forbidden(code="forbidden", title="This isn't allowed."))


def page_not_found(request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
    """Answer as Django's handler404."""
    return _page_or_problem(request, NotFound())


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer as Django's handler500; a database that is away is 503, not a bug."""
    current = sys.exc_info()[1]
    refusal = refusal_of(current) if current is not None else Broken()
    if refusal.status < 500:
        refusal = Broken()
    if is_api(request):
        return problem_response(refusal, request)
    # Without the request no context processor runs: one could touch the database that is away.
    title = "Not available just now" if refusal.status == 503 else ""
    text = render_to_string("500.html", {"title": title, "refusal": refusal})
    response = HttpResponse(text, status=refusal.status)
    for name, value in refusal.headers.items():
        response.headers[name] = value
    return response


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:  # noqa: ARG001 - Django passes it by name
    """Answer a refused cross-site post (settings.CSRF_FAILURE_VIEW)."""
    refusal = Forbidden(
        "The form's token is missing or too old; load the page again.",
        code="csrf_failed",
        title="The form couldn't be trusted.",
    )
    return _page_or_problem(request, refusal)
