"""Pages by position, not by number: rows that come or go meanwhile shift nothing.

A cursor holds the ordering's name and the values of the last row seen, signed. A position is
unique because every ordering ends with the id. Rows without a value come last, both ways.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.core import signing
from django.core.exceptions import FieldDoesNotExist
from django.db.models import F, Model, Q, QuerySet
from rest_framework.pagination import BasePagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from plantcare.api.problems import FieldError, Invalid

DEFAULT_LIMIT, MOST = 50, 200
_SIGNER = signing.Signer(salt="plantcare.cursor", sep=".")


class CursorRefused(Invalid):
    """The cursor wasn't made here, or not for this list and ordering."""

    code = "cursor_refused"
    title = "This cursor isn't one of this list; start again without it."


@dataclass(frozen=True, slots=True)
class _Step:
    """One column of an ordering."""

    path: str
    descending: bool
    nullable: bool

    def expression(self, backwards: bool) -> Any:
        down = self.descending != backwards
        if not self.nullable:
            return F(self.path).desc() if down else F(self.path).asc()
        if backwards:
            return F(self.path).desc(nulls_first=True) if down else F(self.path).asc(nulls_first=True)
        return F(self.path).desc(nulls_last=True) if down else F(self.path).asc(nulls_last=True)

    def same(self, value: Any) -> Q:
        return Q(**{f"{self.path}__isnull": True}) if value is None else Q(**{self.path: value})

    def beyond(self, value: Any, backwards: bool) -> Q | None:
        """Return what lies after the value in reading direction; None when nothing can."""
        word = "lt" if self.descending != backwards else "gt"
        if value is None:
            return Q(**{f"{self.path}__isnull": False}) if backwards else None
        further = Q(**{f"{self.path}__{word}": value})
        if self.nullable and not backwards:
            further |= Q(**{f"{self.path}__isnull": True})
        return further


class KeysetPagination(BasePagination):
    """``?limit=`` (1 to 200), ``?cursor=``, ``?ordering=`` (names that the door allows)."""

    next_url: str | None = None
    previous_url: str | None = None

    def paginate_queryset(self, queryset: Any, request: Request, view: Any = None) -> list[Any]:
        """Return the rows of the asked page; raise Invalid or CursorRefused."""
        limit = _limit(request)
        name, steps = _ordering(queryset, request, view.orderings)
        position, backwards = _position(request, name, len(steps))
        rows = queryset.order_by(*(step.expression(backwards) for step in steps))
        if position is not None:
            rows = rows.filter(_beyond(steps, position, backwards))
        found = list(rows[: limit + 1])
        more, page = len(found) > limit, found[:limit]
        if backwards:
            page.reverse()
        self._links(
            request, name, steps, page, (backwards or more, more if backwards else position is not None)
        )
        return page

    def _links(
        self,
        request: Request,
        name: str,
        steps: Sequence[_Step],
        page: Sequence[Any],
        more: tuple[bool, bool],
    ) -> None:
        after, before = more
        if page and after:
            self.next_url = _address(request, name, _values(page[-1], steps), "n")
        if page and before:
            self.previous_url = _address(request, name, _values(page[0], steps), "p")

    def get_paginated_response(self, data: Any) -> Response:
        """Return the page with its neighbours, in the body and as Link (RFC 8288)."""
        body = {"results": data, "next": self.next_url, "previous": self.previous_url}
        links = [
            f'<{url}>; rel="{rel}"'
            for rel, url in (("next", self.next_url), ("prev", self.previous_url))
            if url
        ]
        return Response(body, headers={"Link": ", ".join(links)} if links else {})

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """Return the schema of a page."""
        address = {"type": ["string", "null"], "format": "uri"}
        return {
            "type": "object",
            "required": ["results", "next", "previous"],
            "properties": {"results": schema, "next": address, "previous": address},
        }


def _limit(request: Request) -> int:
    text = request.query_params.get("limit")
    if text is None:
        return DEFAULT_LIMIT
    limit = int(text) if text.isascii() and text.isdigit() and len(text) <= 4 else 0
    if not 1 <= limit <= MOST:
        raise Invalid(errors=[FieldError("?limit", "out_of_range", f"1 to {MOST}.")])
    return limit


def _ordering(
    rows: QuerySet[Any], request: Request, orderings: Mapping[str, tuple[str, ...]]
) -> tuple[str, list[_Step]]:
    name = request.query_params.get("ordering", next(iter(orderings)))
    if name not in orderings:
        detail = f"One of {', '.join(orderings)}."
        raise Invalid(errors=[FieldError("?ordering", "invalid_choice", detail)])
    columns = list(orderings[name])
    if columns[-1].lstrip("-") not in ("id", "pk"):
        columns.append("-id" if columns[-1].startswith("-") else "id")
    return name, [_Step(c.lstrip("-"), c.startswith("-"), _nullable(rows, c.lstrip("-"))) for c in columns]


def _nullable(rows: QuerySet[Any], path: str) -> bool:
    """Tell whether the column can be empty; an annotation is taken to be, unless it says not."""
    if path in rows.query.annotations:
        return getattr(rows.query.annotations[path], "output_field_never_null", True)
    model: type[Model] = rows.model
    for part in path.split("__"):
        if part == "pk":
            return False
        try:
            field: Any = model._meta.get_field(part)  # noqa: SLF001
        except FieldDoesNotExist:
            return False  # "area_id" of a foreign key is found above; the rest is a transform
        if getattr(field, "null", True):
            return True
        model = field.related_model or model
    return False


def _beyond(steps: Sequence[_Step], position: Sequence[Any], backwards: bool) -> Q:
    """Return the condition of lying after the position in the order of all columns."""
    anywhere = Q(pk__in=[])
    prefix = Q()
    for step, value in zip(steps, position, strict=True):
        further = step.beyond(value, backwards)
        if further is not None:
            anywhere |= prefix & further
        prefix &= step.same(value)
    first, value = steps[0], position[0]
    if first.nullable or value is None:
        return anywhere
    # Says again what the rest implies, so that an index on the first column serves.
    word = "lte" if first.descending != backwards else "gte"
    return Q(**{f"{first.path}__{word}": value}) & anywhere


def _values(row: Any, steps: Sequence[_Step]) -> list[Any]:
    return [_packed(_value(row, step.path)) for step in steps]


def _value(row: Any, path: str) -> Any:
    if isinstance(row, Mapping):
        return row[path]
    for part in path.split("__"):
        row = getattr(row, part, None)
    return row


def _address(request: Request, name: str, values: list[Any], direction: str) -> str:
    cursor = _SIGNER.sign_object({"o": name, "v": values, "d": direction, "p": request.path})
    return replace_query_param(request.build_absolute_uri(), "cursor", cursor)


def _position(request: Request, name: str, columns: int) -> tuple[list[Any] | None, bool]:
    sent = request.query_params.get("cursor")
    if sent is None:
        return None, False
    try:
        held = _SIGNER.unsign_object(sent)
        fits = held["o"] == name and held["p"] == request.path and len(held["v"]) == columns
        position = [_unpacked(value) for value in held["v"]]
    except (signing.BadSignature, ValueError, KeyError, TypeError):
        raise CursorRefused(errors=[FieldError("?cursor", "cursor_refused", "Not made here.")]) from None
    if not fits:
        detail = "Made for another list or ordering."
        raise CursorRefused(errors=[FieldError("?cursor", "cursor_refused", detail)])
    return position, held["d"] == "p"


def _packed(value: Any) -> Any:
    kinds: tuple[tuple[type, str], ...] = (
        (datetime, "t"),
        (date, "d"),
        (Decimal, "n"),
        (uuid.UUID, "u"),
    )
    for kind, mark in kinds:
        if isinstance(value, kind):
            return [mark, value.isoformat() if isinstance(value, date) else str(value)]
    return value


def _unpacked(value: Any) -> Any:
    if not isinstance(value, list):
        return value
    readers: dict[str, Callable[[str], Any]] = {
        "t": datetime.fromisoformat,
        "d": date.fromisoformat,
        "n": Decimal,
        "u": uuid.UUID,
    }
    mark, text = value
    return readers[mark](text)
