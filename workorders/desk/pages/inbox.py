"""The inbox: what a person was told, what they take, how they are written to, and their calendars."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from findings.plant.rules import Right
from plantcare.api.failures import refusal_of
from plantcare.api.problems import NotFound
from plantcare.web.pages import REFUSED
from workorders.desk.pages.base import DeskPage
from workorders.desk.queries import inbox as queries
from workorders.desk.rules import words
from workorders.feeds import actions as feeds
from workorders.feeds.rules import FeedScope
from workorders.inbox import actions
from workorders.inbox.queries.notices import preference_of
from workorders.inbox.rules import ASKING, MailWish, NoticeKind

WHICH = [("", "all"), ("unseen", "not seen"), ("asking", "asked and not taken")]
KINDS = [("", "any"), *((kind.value, words.plain(kind.value)) for kind in NoticeKind)]
MAILS = [
    (MailWish.DAILY.value, "one mail a day; danger at once"),
    (MailWish.AT_ONCE.value, "each at once, outside quiet hours; danger always"),
    (MailWish.OFF.value, "no mail at all, not even of danger"),
]
HOURS = [(str(hour), f"{hour:02d}:00") for hour in range(24)]
SCOPES = [
    (FeedScope.MINE.value, "my work orders, and visits if I walk"),
    (FeedScope.SITE.value, "everything at this site"),
]


class InboxFilterForm(forms.Form):
    """What the list is narrowed to; everything may be left empty."""

    which = forms.ChoiceField(required=False, label="Which", choices=WHICH)
    kind = forms.ChoiceField(required=False, label="About", choices=KINDS)


class WishesForm(forms.Form):
    """How somebody wants to be written to."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=1, max_value=2_000_000_000)
    mail = forms.ChoiceField(label="Mail", choices=MAILS)
    digest_hour = forms.TypedChoiceField(label="The daily mail at", choices=HOURS, coerce=int)
    quiet_from_hour = forms.TypedChoiceField(
        label="Quiet from",
        choices=[("", "no quiet hours"), *HOURS],
        coerce=int,
        required=False,
        empty_value=None,
    )
    quiet_until_hour = forms.TypedChoiceField(
        label="Quiet until",
        choices=[("", "no quiet hours"), *HOURS],
        coerce=int,
        required=False,
        empty_value=None,
    )


class CalendarForm(forms.Form):
    """A new calendar address."""

    name = forms.CharField(label="A name for it", max_length=100)
    scope = forms.ChoiceField(label="It shows", choices=SCOPES)


class Inbox(DeskPage):
    """What the person was told at this site."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW, "POST": Right.VIEW}
    http_method_names = ["get", "head", "options"]
    template = "desk/inbox.html"
    here = "inbox"

    def get(self, _request: HttpRequest, code: str) -> HttpResponse:
        """Show a slice of the list, the wishes and the calendars."""
        self.see(code)
        return self.shown()

    def shown(
        self, *, wishes: WishesForm | None = None, calendar: CalendarForm | None = None, **context: Any
    ) -> HttpResponse:
        """Show the page, with a form that was refused in its place."""
        filters = InboxFilterForm(self.request.GET, label_suffix="")
        filters.is_valid()
        given = filters.cleaned_data
        wanted = queries.InboxFilter(which=given.get("which", ""), kind=given.get("kind", ""))
        user_id = self.actor.user_id
        found = queries.inbox_list(self.site, user_id, wanted, self.request.GET.get("after", ""))
        return self.show(
            form=filters,
            found=found,
            told=queries.told_with(found.rows, user_id),
            asking=[kind.value for kind in ASKING],
            wishes=wishes or self._wishes(),
            calendar=calendar or CalendarForm(label_suffix="", auto_id="calendar-%s"),
            feeds=queries.feeds_shown(self.site, user_id),
            continued=bool(self.request.GET.get("after")),
            **context,
        )

    def _wishes(self) -> WishesForm:
        chosen = preference_of(self.actor.user_id or 0, self.site.pk)
        names = ("version", "mail", "digest_hour", "quiet_from_hour", "quiet_until_hour")
        initial = {name: getattr(chosen, name) for name in names}
        return WishesForm(initial=initial, label_suffix="", auto_id="wishes-%s")

    def back(self, anchor: str = "") -> HttpResponse:
        """Go back to the page."""
        return redirect(reverse("desk_inbox", kwargs={"code": self.site.code}) + anchor)


class InboxSeen(Inbox):
    """Mark everything as seen."""

    http_method_names = ["post", "options"]

    def post(self, _request: HttpRequest, code: str) -> HttpResponse:
        """Note it and go back."""
        site = self.see(code)
        actions.see_all(actor=self.actor, at=self.at, site_id=site.pk)
        return self.back()


class NoticeAnswer(Inbox):
    """See one notice, or take what it asks: the same calls as the API's doors make."""

    http_method_names = ["post", "options"]

    def post(self, _request: HttpRequest, id: uuid.UUID, answer: str) -> HttpResponse:  # noqa: A002
        """Answer and go back."""
        notice = self.seen(queries.notice_seen_by(id, self.actor.user_id, self.site_ids()))
        if answer == "seen":
            actions.mark_seen(actor=self.actor, at=self.at, notice_ids=[notice.pk])
        elif answer == "taken":
            actions.take(actor=self.actor, at=self.at, notice_id=notice.pk, rights=self.rights)
        else:
            raise NotFound
        return self.back()


class InboxWishes(Inbox):
    """Keep how the person wants to be written to."""

    http_method_names = ["post", "options"]

    def post(self, request: HttpRequest, code: str) -> HttpResponse:
        """Keep it and go back; a refusal is shown beside the form."""
        site = self.see(code)
        form = WishesForm(request.POST, label_suffix="", auto_id="wishes-%s")
        if not form.is_valid():
            return self.shown(wishes=form, status=400)
        try:
            actions.choose(actor=self.actor, at=self.at, site_id=site.pk, **form.cleaned_data)
        except REFUSED as exc:
            refusal = refusal_of(exc)
            form.add_error(None, refusal.detail or refusal.title)
            return self.shown(wishes=form, status=refusal.status)
        return self.back("#wishes")


class Calendars(Inbox):
    """Make a calendar address: it is shown in the answer and never again."""

    http_method_names = ["post", "options"]

    def post(self, request: HttpRequest, code: str) -> HttpResponse:
        """Make it and show it."""
        site = self.see(code)
        form = CalendarForm(request.POST, label_suffix="", auto_id="calendar-%s")
        if not form.is_valid():
            return self.shown(calendar=form, status=400)
        _, address = feeds.make_feed(actor=self.actor, at=self.at, site_id=site.pk, **form.cleaned_data)
        return unkept(self.shown(address=address))


class CalendarAnswer(Inbox):
    """Renew or revoke a calendar address."""

    http_method_names = ["post", "options"]

    def post(self, _request: HttpRequest, id: uuid.UUID, answer: str) -> HttpResponse:  # noqa: A002
        """Do it; a new address is shown in the answer and never again."""
        feed = self.seen(queries.feed_seen_by(id, self.actor.user_id, self.site_ids()))
        if answer == "revoke":
            feeds.revoke_feed(actor=self.actor, at=self.at, feed_id=feed.pk)
            return self.back("#calendars")
        if answer != "renew":
            raise NotFound
        _, address = feeds.rotate_feed(actor=self.actor, at=self.at, feed_id=feed.pk)
        return unkept(self.shown(address=address))


def unkept(response: HttpResponse) -> HttpResponse:
    """Let no cache keep a page that tells a secret."""
    response.headers["Cache-Control"] = "no-store"
    return response
