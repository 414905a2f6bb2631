"""A person's inbox as the page shows it: what is new first, danger first of all."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Case, IntegerField, Value, When

from findings.plant.models import Site
from workorders.desk.queries.paging import Slice, Step, sliced
from workorders.feeds.queries import feeds_of
from workorders.inbox.models import Notice
from workorders.inbox.queries.notices import asking, notice_seen_by, notices_of, told_too, unseen

__all__ = [
    "InboxFilter",
    "Told",
    "feed_seen_by",
    "feeds_shown",
    "inbox_list",
    "notice_seen_by",
    "told_with",
    "unseen",
]

_RANK = Case(
    When(seen_at__isnull=True, news__is_safety=True, then=Value(2)),
    When(seen_at__isnull=True, then=Value(1)),
    default=Value(0),
    output_field=IntegerField(),
)
MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class InboxFilter:
    """What the list is narrowed to."""

    which: str = ""
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Told:
    """Who else was told the same: the names of those who saw it, and how many did not."""

    seen_by: list[str]
    more_seen: int
    unseen: int


def inbox_list(site: Site, user_id: int | None, wanted: InboxFilter, after: str) -> Slice[Notice]:
    """Return a slice of a person's notices of a site (one query)."""
    rows = notices_of(user_id).filter(site=site).annotate(rank=_RANK)
    if wanted.which == "unseen":
        rows = rows.filter(seen_at__isnull=True)
    if wanted.which == "asking":
        rows = asking(rows, yes=True)
    if wanted.kind:
        rows = rows.filter(news__kind=wanted.kind)
    steps = (Step("rank", down=True), Step("at", down=True), Step("id", down=True))
    return sliced(rows, steps, after)


def told_with(rows: Sequence[Notice], user_id: int | None) -> dict[uuid.UUID, Told]:
    """Return, by notice, who of the others saw it and how many did not (one query)."""
    others = told_too(row.news_id for row in rows)
    return {row.pk: _told(others[row.news_id], user_id) for row in rows}


def _told(copies: Sequence[Notice], user_id: int | None) -> Told:
    others = [one for one in copies if one.user_id != user_id]
    names = [str(one.user) for one in others if one.seen_at is not None]
    return Told(names[:MOST_NAMED], len(names[MOST_NAMED:]), len(others) - len(names))


def feeds_shown(site: Site, user_id: int | None) -> list[Any]:
    """Return a person's live calendar addresses of a site, newest first."""
    rows = feeds_of(user_id).filter(site=site, revoked_at__isnull=True)
    return list(rows.order_by("-created_at", "id"))


def feed_seen_by(feed_id: uuid.UUID, user_id: int | None, site_ids: Collection[uuid.UUID]) -> Any:
    """Return a person's own calendar at one of these sites, or None."""
    return feeds_of(user_id).filter(pk=feed_id, site_id__in=list(site_ids)).first()
