"""Resolve ids that arrive from outside, in a path or a body, without telling what exists.

A foreign id and an unknown id get the same answer: 404 in a path, 400 in a body.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import F, QuerySet

from plantcare.api.actor import Actor
from plantcare.api.policy import require_on
from plantcare.api.problems import FieldError, Invalid, NotFound, pointer


@dataclass(frozen=True, slots=True)
class Reference:
    """Where the rows live that an id in a body names.

    ``site_field`` is the path from the row to its site, or None for rows of no site.
    """

    rows: Callable[[], QuerySet[Any]]
    site_field: str | None = "site_id"


class UnknownReference(Invalid):
    """An id in the body names nothing that the caller may see."""

    code = "unknown_reference"
    title = "An id names nothing here."


class MixedSites(Invalid):
    """The ids of one request belong to more than one site."""

    code = "mixed_sites"
    title = "Everything named in one request has to belong to one site."


def one(
    rows: QuerySet[Any],
    pk: Any,
    *,
    actor: Actor,
    right: str,
    site_field: str | None = "site_id",
) -> tuple[Any, uuid.UUID | None]:
    """Return the row of a path id and its site; raise NotFound or Forbidden."""
    if site_field is not None:
        rows = rows.annotate(door_site_id=F(site_field))
    found = rows.filter(pk=pk).first()
    if found is None:
        raise NotFound
    site_id = found.door_site_id if site_field is not None else None
    require_on(actor, right, site_id)
    return found, site_id


def resolve(
    data: Mapping[str, Any],
    references: Mapping[str, Reference],
    *,
    actor: Actor,
    right: str,
    site_id: uuid.UUID | None = None,
) -> tuple[dict[str, Any], uuid.UUID | None]:
    """Return the named rows by JSON pointer, and the one site that they and the body share.

    ``references`` maps a member name to its rows; ``stops.*.asset_id`` reaches into lists.
    Raise UnknownReference, MixedSites, or Forbidden when the site is known but not the right.
    """
    resolved: dict[str, Any] = {}
    sites: dict[uuid.UUID, str] = {} if site_id is None else {site_id: ""}
    own_site = data.get("site_id")
    if isinstance(own_site, uuid.UUID):
        sites.setdefault(own_site, "/site_id")
    for pattern, reference in references.items():
        named = list(_walk(data, pattern.split(".")))
        for where, found, found_site in _rows(reference, named):
            resolved[where] = found
            if found_site is not None:
                sites.setdefault(found_site, where)
    for place, where in sites.items():
        _require(actor, right, place, where)
    if len(sites) > 1:
        where = list(sites.values())[-1]
        raise MixedSites(errors=[FieldError(where, "mixed_sites", "Belongs to another site.")])
    return resolved, next(iter(sites), None)


def unknown(where: str) -> UnknownReference:
    """Return the refusal of an id that names nothing for the caller."""
    return UnknownReference(errors=[FieldError(where, "unknown_reference", "Names nothing here.")])


def _require(actor: Actor, right: str, site_id: uuid.UUID, where: str) -> None:
    try:
        require_on(actor, right, site_id)
    except NotFound:
        raise unknown(where) from None


def _rows(
    reference: Reference, named: Sequence[tuple[str, Any]]
) -> Iterator[tuple[str, Any, uuid.UUID | None]]:
    if not named:
        return
    rows = reference.rows()
    if reference.site_field is not None:
        rows = rows.annotate(door_site_id=F(reference.site_field))
    by_pk = {row.pk: row for row in rows.filter(pk__in={pk for _, pk in named})}
    for where, pk in named:
        if pk not in by_pk:
            raise unknown(where)
        row = by_pk[pk]
        yield where, row, (row.door_site_id if reference.site_field is not None else None)


def _walk(data: Any, steps: Sequence[str], at: tuple[str | int, ...] = ()) -> Iterator[tuple[str, Any]]:
    if data is None:
        return
    if not steps:
        yield pointer(*at), data
    elif steps[0] == "*":
        for index, inner in enumerate(data):
            yield from _walk(inner, steps[1:], (*at, index))
    elif isinstance(data, Mapping) and steps[0] in data:
        yield from _walk(data[steps[0]], steps[1:], (*at, steps[0]))
