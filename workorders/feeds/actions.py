"""Make, renew and revoke the secret addresses of calendars."""

from __future__ import annotations

import secrets
import uuid
from datetime import datetime
from typing import Any

from django.db import transaction

from findings.logbook import actions as logbook
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, Forbidden, NotFound
from plantcare.people.authentication import digest_of
from workorders.feeds import queries
from workorders.feeds.models import CalendarFeed
from workorders.feeds.rules import MOST_LIVE_FEEDS, FeedScope


class FeedRevoked(Conflict):
    """A revoked address stays revoked."""

    code = "calendar_feed_revoked"
    title = "This calendar's address was revoked."


class TooManyFeeds(Conflict):
    """So many addresses nobody keeps an eye on."""

    code = "too_many_calendar_feeds"
    title = f"There are {MOST_LIVE_FEEDS} live calendar addresses already: revoke one that is not used."


class FeedByKey(Forbidden):
    """A stolen key must not leave a lasting address behind."""

    code = "calendar_feed_by_key"
    title = "Calendar addresses are made at a log-in, not by a key."


def make_feed(
    *, actor: Actor, at: datetime, site_id: uuid.UUID, scope: FeedScope | str, name: str
) -> tuple[CalendarFeed, str]:
    """Make a calendar and return it with its secret address, which is nowhere kept.

    Raises FeedByKey, TooManyFeeds.
    """
    _check_person(actor)
    with transaction.atomic():
        feed, token = _make(actor, at, site_id, FeedScope(scope), name.strip())
        _log(feed, actor, at, "calendar_feed.made")
    return feed, queries.address_of(token)


def rotate_feed(*, actor: Actor, at: datetime, feed_id: uuid.UUID) -> tuple[CalendarFeed, str]:
    """Give a calendar a new address and end the old one at once.

    Raises FeedByKey, NotFound, FeedRevoked.
    """
    _check_person(actor)
    with transaction.atomic():
        old = _locked(actor, feed_id)
        if not _revoke(old, at):
            raise FeedRevoked
        feed, token = _make(actor, at, old.site_id, FeedScope(old.scope), old.name)
        _log(old, actor, at, "calendar_feed.rotated", {"replaced_by": feed.pk})
    return feed, queries.address_of(token)


def revoke_feed(*, actor: Actor, at: datetime, feed_id: uuid.UUID) -> CalendarFeed:
    """End an address at once; one that has ended stays as it is. Raises NotFound."""
    with transaction.atomic():
        feed = _locked(actor, feed_id)
        if _revoke(feed, at):
            _log(feed, actor, at, "calendar_feed.revoked")
    return CalendarFeed.objects.get(pk=feed_id)


def _check_person(actor: Actor) -> None:
    if actor.user_id is None or actor.key_id is not None:
        raise FeedByKey


def _locked(actor: Actor, feed_id: uuid.UUID) -> CalendarFeed:
    rows = CalendarFeed.objects.select_for_update().filter(pk=feed_id, user_id=actor.user_id or 0)
    feed = rows.first()
    if feed is None:
        raise NotFound
    return feed


def _revoke(feed: CalendarFeed, at: datetime) -> bool:
    return bool(CalendarFeed.objects.filter(pk=feed.pk, revoked_at__isnull=True).update(revoked_at=at))


def _make(
    actor: Actor, at: datetime, site_id: uuid.UUID, scope: FeedScope, name: str
) -> tuple[CalendarFeed, str]:
    mine: Any = {"user_id": actor.user_id, "site_id": site_id}
    if CalendarFeed.objects.filter(**mine, revoked_at__isnull=True).count() >= MOST_LIVE_FEEDS:
        raise TooManyFeeds
    prefix, secret = secrets.token_hex(4), secrets.token_urlsafe(32)
    feed = CalendarFeed.objects.create(
        **mine, scope=scope, name=name, prefix=prefix, digest=digest_of(secret), created_at=at
    )
    return feed, f"{prefix}_{secret}"


def _log(
    feed: CalendarFeed, actor: Actor, at: datetime, act: str, detail: dict[str, Any] | None = None
) -> None:
    logbook.write(
        site_id=feed.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="calendar_feed",
        subject_id=feed.pk,
        detail={"scope": feed.scope, **(detail or {})},
    )
