"""Doors of a person's own notices: list them, see one, take one."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet

from findings.plant.access import POLICY
from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, DetailDoor, Door, ListDoor
from workorders.inbox import actions
from workorders.inbox.queries import notices
from workorders.inbox.rules import NoticeKind

NOTICE_KINDS = [(kind.value, kind.value) for kind in NoticeKind]


class NoticeShape(shapes.Shape):
    """Something that a person is told, and whether somebody sees to it."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    kind = shapes.ChoiceField(choices=NOTICE_KINDS, source="news.kind")
    is_safety = shapes.BooleanField(source="news.is_safety")
    headline = shapes.TextField(source="news.headline", help_text="What happened, in a sentence.")
    todo = shapes.TextField(source="news.todo", help_text="What is to be done about it, in a sentence.")
    finding_id = shapes.UuidField(source="news.finding_id", allow_null=True)
    order_id = shapes.UuidField(source="news.order_id", allow_null=True)
    escalation_id = shapes.UuidField(source="news.escalation_id", allow_null=True)
    logbook_sequence = shapes.IntegerField(
        source="news.sequence", help_text="The entry of the site's logbook that it comes from."
    )
    at = shapes.AwareDateTimeField()
    seen_at = shapes.AwareDateTimeField(allow_null=True)
    taken_at = shapes.AwareDateTimeField(source="news_taken_at", allow_null=True)
    taken_by_id = shapes.UuidField(
        source="taker.public_id", allow_null=True, help_text="Who sees to it, whoever was told."
    )


class NoticeFilters(filtering.StrictFilterSet):
    """Narrow the list of notices."""

    site_id = filtering.UuidFilter()
    kind = filtering.ChoicesFilter(choices=NOTICE_KINDS, field_name="news__kind")
    is_safety = filtering.BooleanFilter(field_name="news__is_safety")
    seen = filtering.BooleanFilter(field_name="seen_at", lookup_expr="isnull", exclude=True)
    taken = filtering.BooleanFilter(field_name="news_taken_at", lookup_expr="isnull", exclude=True)


class OwnNotices(Door):
    """A door of the caller's own notices, at the sites that they may still see."""

    shape = NoticeShape

    def rows(self) -> QuerySet[Any]:
        """Return the caller's notices."""
        return notices.notices_of(self.actor.user_id)


class Notices(OwnNotices, ListDoor):
    """What the caller was told."""

    noun, room = "notice", "inbox"
    needs = {"GET": "view"}
    filterset_class = NoticeFilters
    orderings = {"-at": ("-at", "-id"), "at": ("at", "id")}


class Notice(OwnNotices, DetailDoor):
    """One of the caller's notices."""

    noun, room = "notice", "inbox"
    needs = {"GET": "view"}
    conditional: ClassVar[bool] = False


class NoticeSeen(OwnNotices, ActDoor):
    """Say that one has seen a notice; saying it again changes nothing."""

    operation, room = "notice_see", "inbox"
    needs = {"POST": "view"}
    if_match = "ignored"

    def act(self, obj: Any, _: dict[str, Any]) -> Any:
        """Note it."""
        actions.mark_seen(actor=self.actor, at=self.at, notice_ids=[obj.pk])
        return self.rows().get(pk=obj.pk)


class NoticeTake(OwnNotices, ActDoor):
    """Say that one sees to what a notice asks."""

    operation, room = "notice_take", "inbox"
    needs = {"POST": "view"}
    if_match = "ignored"

    def act(self, obj: Any, _: dict[str, Any]) -> Any:
        """Take it."""
        rights = POLICY.rights(self.actor, obj.site_id)
        return actions.take(actor=self.actor, at=self.at, notice_id=obj.pk, rights=rights)
