"""Write the mails of notices that are due. Called inside the transaction that makes or takes them up."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime
from itertools import groupby
from typing import Final

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse

from findings.plant.models import Site
from plantcare.api.identifiers import uuid7
from workorders.inbox.models import Mail, News, Notice
from workorders.inbox.queries import mails, notices
from workorders.inbox.rules import MOST_SINGLE_MAILS, MailWish

MOST_AT_ONCE: Final = 1_000
LONGEST_SUBJECT: Final = 150


def write_mails(site: Site, at: datetime) -> int:
    """Write the mails of a site's notices that may be mailed now; return how many mails.

    What endangers somebody gets a mail of its own. Of the rest a person gets one mail for all, unless they
    want each at once and there are few.
    """
    written = 0
    chosen = notices.wishes_at(site.pk)
    for user_id, group in groupby(mails.to_mail(site.pk, at, MOST_AT_ONCE), key=lambda one: one.user_id):
        due = list(group)
        dangers = [one for one in due if one.news.is_safety]
        rest = [one for one in due if not one.news.is_safety]
        wish = chosen[user_id].mail if user_id in chosen else MailWish.DAILY
        apart = wish is MailWish.AT_ONCE and len(rest) <= MOST_SINGLE_MAILS
        bundles = [[one] for one in dangers] + ([[one] for one in rest] if apart else [rest] if rest else [])
        for bundle in bundles:
            _write(site, bundle, at)
        written += len(bundles)
    return written


def _write(site: Site, bundle: Sequence[Notice], at: datetime) -> None:
    """Write one mail about one notice or several, and mark them as mailed."""
    pk = uuid7()
    told = [_item(one.news) for one in bundle]
    news = bundle[0].news
    subject = f"{site.code}: {news.headline}" if len(bundle) == 1 else f"{site.code}: {len(bundle)} notices"
    context = {
        "site": site,
        "person": bundle[0].user,
        "told": told,
        "inbox": address(reverse("desk_inbox", kwargs={"code": site.code})),
        "is_safety": news.is_safety,
    }
    mail = Mail.objects.create(
        id=pk,
        site=site,
        user_id=bundle[0].user_id,
        message_id=message_id(pk),
        is_safety=news.is_safety,
        subject=_shortened(subject),
        text=render_to_string("inbox/mail.txt", context).strip() + "\n",
        html=render_to_string("inbox/mail.html", context),
        next_try_at=at,
        created_at=at,
    )
    Notice.objects.filter(pk__in=[one.pk for one in bundle]).update(mail=mail)


def _item(news: News) -> dict[str, str]:
    return {"headline": news.headline, "todo": news.todo, "address": address(page_of(news))}


def page_of(news: News) -> str:
    """Return the path of the page on which the thing is done."""
    if news.finding_id is not None:
        return reverse("desk_finding", kwargs={"id": news.finding_id})
    if news.order_id is not None:
        return reverse("desk_order", kwargs={"id": news.order_id})
    if news.month_on is not None:
        place = {"code": news.site.code, "month": f"{news.month_on:%Y-%m}"}
        return reverse("desk_month", kwargs=place)
    return reverse("desk_inbox", kwargs={"code": news.site.code})


def address(path: str) -> str:
    """Return the whole address of a page, as a mailbox needs it."""
    return f"{settings.PLANTCARE_PUBLIC_URL.rstrip('/')}{path}"


def message_id(mail_id: uuid.UUID) -> str:
    """Return the mark by which a mailbox knows a mail that comes twice (RFC 5322 section 3.6.4)."""
    domain = settings.DEFAULT_FROM_EMAIL.rpartition("@")[2].strip("> ") or "localhost"
    return f"<{mail_id}@{domain}>"


def _shortened(subject: str) -> str:
    line = " ".join(subject.split())
    return line if len(line) <= LONGEST_SUBJECT else f"{line[: LONGEST_SUBJECT - 1]}…"
