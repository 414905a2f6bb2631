"""Versions on the wire: the strong ETag "v7" is the row's version 7 (RFC 9110 section 8.8.3)."""

from __future__ import annotations

import re
from typing import Any

from django.http import HttpRequest
from rest_framework.request import Request

from plantcare.api.problems import Invalid, PreconditionFailed, PreconditionRequired

_TAG = re.compile(r'"v(\d{1,18})"')


def etag(version: int) -> str:
    """Return the entity tag of a version."""
    return f'"v{version}"'


def headers(result: Any) -> dict[str, str]:
    """Return the ETag header of an object with a version, else nothing."""
    version = version_of(result)
    return {} if version is None else {"ETag": etag(version)}


def version_of(result: Any) -> int | None:
    """Return the version of an object or mapping, or None."""
    found = result.get("version") if isinstance(result, dict) else getattr(result, "version", None)
    return found if isinstance(found, int) else None


def stale(current: int) -> PreconditionFailed:
    """Return the refusal of a write that was made from an older version."""
    return PreconditionFailed(
        f"It is at version {current} now. Read it again, compare, then send your change.",
        current_version=current,
        headers={"ETag": etag(current)},
    )


def require_if_match(request: HttpRequest | Request, version: int) -> int:
    """Return the version when If-Match names it.

    Raise PreconditionRequired (428) without the header, Invalid (400) for an unreadable one and
    PreconditionFailed (412) for another version. "*" is no version and is refused as unreadable.
    """
    sent = request.headers.get("If-Match")
    if sent is None:
        raise PreconditionRequired
    versions = [int(number) for number in _TAG.findall(sent)]
    if not versions and not sent.lstrip().startswith(('"', 'W/"')):
        msg = 'If-Match takes an ETag like "v7".'
        raise Invalid(msg, code="if_match_malformed")
    if version not in versions or sent.lstrip().startswith("W/"):
        raise stale(version)
    return version


def matches_none(request: HttpRequest | Request, result: Any) -> bool:
    """Tell whether If-None-Match names the present version, so that 304 suffices."""
    version = version_of(result)
    sent = request.headers.get("If-None-Match", "")
    if version is None or not sent:
        return False
    return sent.strip() == "*" or str(version) in _TAG.findall(sent)
