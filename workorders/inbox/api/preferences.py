"""The door of how a person wants to hear from a site."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.plant.queries import sites
from plantcare.api import shapes
from plantcare.api.views import ChangeDoor
from workorders.inbox import actions
from workorders.inbox.queries import notices
from workorders.inbox.rules import MailWish

MAIL_WISHES = [(wish.value, wish.value) for wish in MailWish]


class NoticePreferenceShape(shapes.Shape):
    """How the caller wants to hear from a site; the inbox shows everything anyway."""

    site_id = shapes.UuidField()
    mail = shapes.ChoiceField(
        choices=MAIL_WISHES, help_text="daily: one mail a day, danger at once; at_once: each by itself."
    )
    digest_hour = shapes.IntegerField(help_text="0 to 23 by the site's clock.")
    quiet_from_hour = shapes.IntegerField(
        allow_null=True, help_text="From this hour on only danger is written of; null: always."
    )
    quiet_until_hour = shapes.IntegerField(allow_null=True)
    version = shapes.IntegerField()


class NoticePreferenceChange(shapes.InputShape):
    """What may be chosen."""

    mail = shapes.ChoiceField(choices=MAIL_WISHES, required=False)
    digest_hour = shapes.IntegerField(min_value=0, max_value=23, required=False)
    quiet_from_hour = shapes.IntegerField(min_value=0, max_value=23, required=False, allow_null=True)
    quiet_until_hour = shapes.IntegerField(min_value=0, max_value=23, required=False, allow_null=True)


class NoticePreference(ChangeDoor):
    """The caller's own wishes for one site."""

    noun, room = "notice_preference", "inbox"
    needs = {"GET": "view", "PATCH": "view"}
    site_field = "id"
    shape, input_shape = NoticePreferenceShape, NoticePreferenceChange

    def rows(self) -> QuerySet[Any]:
        """Return all sites: the path names one."""
        return sites()

    def get_object(self) -> Any:
        """Return the caller's wishes for the site of the path, the usual ones where none were told."""
        site = super().get_object()
        return notices.preference_of(self.actor.user_id or 0, site.pk)

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Keep what was chosen."""
        return actions.choose(actor=self.actor, at=self.at, site_id=obj.site_id, version=self.version, **data)
