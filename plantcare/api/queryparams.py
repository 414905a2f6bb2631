"""The query of an address: every name known, every value once, every text storable."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Protocol

from rest_framework.request import Request

from plantcare.api import shapes, units
from plantcare.api.parsers import storable
from plantcare.api.problems import FieldError, Invalid, MediaTypeRefused, NotFound

# Every door knows these.
COMMON = frozenset({"fields", "expand", "units", "format"})


class UnknownParameter(Invalid):
    """A misspelt filter must not answer with everything."""

    code = "unknown_parameter"
    title = "The address has a parameter that this door doesn't know."


class _Door(Protocol):
    kwargs: dict[str, Any]

    @property
    def shape(self) -> Any: ...

    def query_names(self) -> set[str]: ...


def check(request: Request, door: _Door) -> None:
    """Refuse unknown, repeated and unstorable parameters, and packed bodies."""
    if any(isinstance(part, str) and not storable(part) for part in door.kwargs.values()):
        raise NotFound
    if request.headers.get("Content-Encoding", "identity") != "identity":
        msg = "Bodies are taken unpacked only."
        raise MediaTypeRefused(msg)
    query = request.query_params
    known = COMMON | door.query_names()
    refuse_unknown(query, known)
    errors = []
    for name, values in query.lists():
        if len(values) > 1:
            errors.append(FieldError(f"?{name}", "repeated", "Name it once; separate values by commas."))
        elif not storable(values[0]):
            errors.append(FieldError(f"?{name}", "character_refused", "Holds a null character."))
    if errors:
        raise Invalid(errors=errors)
    units.asked_for(query)
    shapes.check_asked(door.shape, query)
    if query.get("format", "json") != "json" and "format" not in door.query_names():
        detail = "This door answers in json only."
        raise Invalid(errors=[FieldError("?format", "invalid_choice", detail)])


def refuse_unknown(query: Iterable[str], known: Iterable[str]) -> None:
    """Raise UnknownParameter with a pointer for each name that isn't known."""
    unknown = sorted(set(query) - set(known))
    if unknown:
        detail = f"Known here: {', '.join(sorted(known))}."
        errors = [FieldError(f"?{name[:80]}", "unknown_parameter", "Not known here.") for name in unknown]
        raise UnknownParameter(detail, errors=errors)


def validated(request: Request, shape: type[shapes.InputShape]) -> dict[str, Any]:
    """Return the parameters that the shape names, validated; raise Invalid with ``?name``."""
    names = set(shape().fields)
    given = {name: value for name, value in request.query_params.items() if name in names}
    taker = shape(data=given)
    if taker.is_valid():
        return dict(taker.validated_data)
    errors = [
        FieldError(f"?{error.pointer.lstrip('/')}", error.code, error.detail)
        for error in shapes.errors_of(taker)
    ]
    raise Invalid(errors=errors)
