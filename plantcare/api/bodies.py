"""No body is read that is larger than any door takes."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from plantcare.api.problems import TooLarge, problem_response

MB = 1024 * 1024


class BodyLimitMiddleware:
    """Refuse by the length that a request states, before anything reads it.

    It stands before whatever looks into a form, such as the check of a page's token. A request without a
    length has no body for Django, so no body is read that wasn't measured here; what is smaller goes to the
    door, whose own limits are stricter, and lies on the disk, not in memory, from 4 MB on.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer 413, or hand the request on."""
        stated = request.META.get("CONTENT_LENGTH") or "0"
        most = int(settings.PLANTCARE_BODY_MAX_BYTES)
        if not stated.isdecimal() or int(stated) > most:
            detail = f"A request has at most {most // MB} MB."
            return problem_response(TooLarge(detail), request)
        return self.get_response(request)
