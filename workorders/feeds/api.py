"""Doors of calendars: make an address, list one's own, renew and revoke them."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.response import Response

from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, Door, ListDoor
from workorders.feeds import actions, queries
from workorders.feeds.rules import FeedScope

SCOPES = [(scope.value, scope.value) for scope in FeedScope]


class CalendarFeedShape(shapes.Shape):
    """A calendar that a program can subscribe to; its address is told once."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    scope = shapes.ChoiceField(
        choices=SCOPES, help_text="mine: the caller's own orders, and visits for an inspector; site: all."
    )
    name = shapes.TextField()
    prefix = shapes.TextField(help_text="How the secret part of the address begins.")
    created_at = shapes.AwareDateTimeField()
    revoked_at = shapes.AwareDateTimeField(allow_null=True)
    address = serializers.SerializerMethodField(
        help_text="Whoever knows it can read the calendar: told in the answer that made it, null ever after."
    )

    def get_address(self, _: Any) -> str | None:
        """Return the secret address in the answer that made it, null ever after."""
        return getattr(self.context["view"], "address", None)


class CalendarFeedInput(shapes.InputShape):
    """A new calendar of the caller."""

    site_id = shapes.UuidField()
    scope = shapes.ChoiceField(choices=SCOPES)
    name = shapes.TextField(max_length=100)


class OwnFeeds(Door):
    """A door of the caller's own calendars, at the sites that they may still see."""

    shape = CalendarFeedShape
    address: str | None = None

    def rows(self) -> QuerySet[Any]:
        """Return the caller's calendars."""
        return queries.feeds_of(self.actor.user_id)


class Secretive(OwnFeeds):
    """A door whose answer is kept by nobody, since it tells a secret."""

    replayable = False

    def post(self, *args: Any, **kwargs: Any) -> Response:
        """Answer with the address, kept by no cache."""
        response: Response = super().post(*args, **kwargs)  # type: ignore[misc]
        response.headers["Cache-Control"] = "no-store"
        return response


class CalendarFeeds(Secretive, CreateDoor, ListDoor):
    """The caller's calendars."""

    noun, room = "calendar_feed", "feeds"
    needs = {"GET": "view", "POST": "view"}
    input_shape = CalendarFeedInput
    filterset_class = filtering.StrictFilterSet
    orderings = {"-created_at": ("-created_at", "-id"), "name": ("name", "id")}

    def act(self, data: dict[str, Any]) -> Any:
        """Make a calendar."""
        feed, self.address = actions.make_feed(actor=self.actor, at=self.at, **data)
        return feed


class CalendarFeed(OwnFeeds, DetailDoor):
    """One of the caller's calendars."""

    noun, room = "calendar_feed", "feeds"
    needs = {"GET": "view"}


class CalendarFeedRotation(Secretive, ActDoor):
    """Give a calendar a new address; the old one ends at once."""

    operation, room = "calendar_feed_rotate", "feeds"
    needs = {"POST": "view"}
    if_match = "ignored"

    def act(self, obj: Any, _: dict[str, Any]) -> Any:
        """Renew it."""
        feed, self.address = actions.rotate_feed(actor=self.actor, at=self.at, feed_id=obj.pk)
        return feed


class CalendarFeedRevocation(OwnFeeds, ActDoor):
    """End a calendar's address at once."""

    operation, room = "calendar_feed_revoke", "feeds"
    needs = {"POST": "view"}
    if_match = "ignored"

    def act(self, obj: Any, _: dict[str, Any]) -> Any:
        """Revoke it."""
        return actions.revoke_feed(actor=self.actor, at=self.at, feed_id=obj.pk)
