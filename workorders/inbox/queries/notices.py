"""Read the notices of a person, and who else saw or took the same."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import Any

from django.db.models import QuerySet
from django.db.models.functions import Coalesce

from workorders.inbox.models import News, Notice, Preference
from workorders.inbox.rules import ASKING, MailWish, Wishes

_ASKING = [kind.value for kind in ASKING]


def notices_of(user_id: int | None) -> QuerySet[Any]:
    """Return one person's notices with their news; a door narrows them to the sites seen.

    ``taken_at`` and ``taker`` are those of the step up where the news is one.
    """
    rows = Notice.objects.filter(user_id=user_id or 0).select_related(
        "news__finding__asset",
        "news__order__asset",
        "news__taken_by",
        "news__escalation__taken_by",
        "site",
    )
    return rows.annotate(news_taken_at=Coalesce("news__escalation__taken_at", "news__taken_at"))


def unseen(user_id: int | None, site_id: uuid.UUID) -> int:
    """Return how many notices of a site a person has not seen."""
    return Notice.objects.filter(user_id=user_id or 0, site_id=site_id, seen_at__isnull=True).count()


def asking(rows: QuerySet[Any], *, yes: bool) -> QuerySet[Any]:
    """Return the notices that ask something and that nobody took, or the others."""
    waiting = {"news__kind__in": _ASKING, "news_taken_at__isnull": True}
    return rows.filter(**waiting) if yes else rows.exclude(**waiting)


def told_too(news_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[Notice]]:
    """Return everybody's notices of the news, those seen first first (one query)."""
    rows = Notice.objects.filter(news_id__in=list(news_ids)).select_related("user")
    found: dict[uuid.UUID, list[Notice]] = defaultdict(list)
    for row in rows.order_by("seen_at", "user__last_name", "user__username", "id"):
        found[row.news_id].append(row)
    return found


def notice_seen_by(notice_id: uuid.UUID, user_id: int | None, site_ids: Collection[uuid.UUID]) -> Any:
    """Return a person's own notice at one of these sites, or None."""
    return notices_of(user_id).filter(pk=notice_id, site_id__in=list(site_ids)).first()


def news_of(news_id: uuid.UUID) -> News:
    """Return news, locked so that two people cannot take it at once."""
    return News.objects.select_for_update(of=("self",)).select_related("taken_by").get(pk=news_id)


def preference_of(user_id: int, site_id: uuid.UUID) -> Preference:
    """Return what a person chose for a site; the usual, not stored, where nothing was chosen."""
    known = Preference.objects.filter(user_id=user_id, site_id=site_id).first()
    return known or Preference(user_id=user_id, site_id=site_id)


def wishes_at(site_id: uuid.UUID) -> dict[int, Wishes]:
    """Return what people chose for a site, by user id."""
    return {row.user_id: wishes(row) for row in Preference.objects.filter(site_id=site_id)}


def wishes(row: Preference) -> Wishes:
    """Return a stored choice as the rules take it."""
    return Wishes(
        mail=MailWish(row.mail),
        digest_hour=row.digest_hour,
        quiet_from_hour=row.quiet_from_hour,
        quiet_until_hour=row.quiet_until_hour,
    )
