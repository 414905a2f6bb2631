"""Doors of a site's mails, for whoever keeps its jobs running: what waits, what was given up and why."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, ListDoor
from workorders.inbox import actions
from workorders.inbox.queries import mails
from workorders.inbox.rules import MailState

MAIL_STATES = [(state.value, state.value) for state in MailState]


class MailShape(shapes.Shape):
    """A mail on its way; what it says is its reader's."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    person_id = shapes.UuidField(source="user.public_id")
    message_id = shapes.TextField(help_text="Stays the same however often it is sent.")
    is_safety = shapes.BooleanField()
    state = shapes.ChoiceField(
        choices=MAIL_STATES, help_text="parked: given up with its reason, until somebody sends it again."
    )
    attempts = shapes.IntegerField()
    next_try_at = shapes.AwareDateTimeField()
    last_error = shapes.TextField()
    version = shapes.IntegerField()
    created_at = shapes.AwareDateTimeField()
    ended_at = shapes.AwareDateTimeField(allow_null=True)


class MailFilters(filtering.StrictFilterSet):
    """Narrow the list of mails."""

    site_id = filtering.UuidFilter()
    state = filtering.ChoicesFilter(choices=MAIL_STATES)
    is_safety = filtering.BooleanFilter()


class Mails(ListDoor):
    """The mails of the caller's sites."""

    noun, room = "mail", "inbox"
    refuses_outsiders = True
    needs = {"GET": "jobs"}
    shape, filterset_class = MailShape, MailFilters
    orderings = {"-created_at": ("-created_at", "-id"), "next_try_at": ("next_try_at", "id")}

    def rows(self) -> QuerySet[Any]:
        """Return all mails."""
        return mails.mails()


class MailRetry(ActDoor):
    """Send a mail once more that was given up."""

    operation, room = "mail_retry", "inbox"
    needs = {"POST": "jobs"}
    shape = MailShape

    def rows(self) -> QuerySet[Any]:
        """Return all mails."""
        return mails.mails()

    def act(self, obj: Any, _: dict[str, Any]) -> Any:
        """Take it up again."""
        return actions.retry_mail(actor=self.actor, at=self.at, mail_id=obj.pk, version=self.version)
