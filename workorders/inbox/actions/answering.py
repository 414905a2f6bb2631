"""What a person does with a notice: see it, take it; and how they want to hear."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from datetime import datetime
from typing import Any

from django.db import transaction

from findings.logbook import actions as logbook
from findings.plant.rules import Right
from plantcare.api import versions
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Forbidden, Invalid, NotFound
from workorders.clocks.actions import take_escalation
from workorders.inbox.models import News, Notice, Preference
from workorders.inbox.queries import notices
from workorders.inbox.rules import ASKING, NoticeKind


class PersonNeeded(Forbidden):
    """Only people have an inbox."""

    code = "person_needed"
    title = "Only people have an inbox."


class NoticeTaken(Conflict):
    """Somebody sees to it already."""

    code = "notice_taken"
    title = "Somebody has taken this already."


class NothingAsked(Conflict):
    """The notice only tells."""

    code = "nothing_asked"
    title = "This notice asks nothing of anybody."


class QuietHoursHalf(Invalid):
    """Quiet hours have a beginning and an end."""

    code = "quiet_hours_half"
    title = "Quiet hours have a beginning and an end, or neither."


def mark_seen(*, actor: Actor, at: datetime, notice_ids: Collection[uuid.UUID]) -> int:
    """Note that a person has seen notices of their own; return how many were new to them.

    Whose they are is checked here too. A fact of the person alone: it stands on the notice and not in the
    site's logbook.
    """
    mine = Notice.objects.filter(pk__in=list(notice_ids), user_id=_person(actor), seen_at__isnull=True)
    return mine.update(seen_at=at)


def see_all(*, actor: Actor, at: datetime, site_id: uuid.UUID) -> int:
    """Note that a person has seen all their notices of a site up to now; return how many were new."""
    mine = Notice.objects.filter(site_id=site_id, user_id=_person(actor), seen_at__isnull=True, at__lte=at)
    return mine.update(seen_at=at)


def take(*, actor: Actor, at: datetime, notice_id: uuid.UUID, rights: Collection[Right]) -> Any:
    """Say that one sees to what a notice asks; the first one does, and has thereby seen it.

    A step up is taken with its whole climb, and stops the next steps for a while. Raises NotFound,
    NothingAsked, NoticeTaken, EscalationTaken, Forbidden.
    """
    with transaction.atomic():
        notice = Notice.objects.filter(pk=notice_id, user_id=_person(actor)).first()
        if notice is None:
            raise NotFound
        news = notices.news_of(notice.news_id)
        if NoticeKind(news.kind) not in ASKING:
            raise NothingAsked
        if news.escalation_id is not None:
            take_escalation(actor=actor, at=at, escalation_id=news.escalation_id, rights=rights)
        else:
            _take(news, actor, at)
        mark_seen(actor=actor, at=at, notice_ids=[notice_id])
    return notices.notices_of(actor.user_id).get(pk=notice_id)


def _person(actor: Actor) -> int:
    if actor.user_id is None:
        raise PersonNeeded
    return actor.user_id


def _take(news: News, actor: Actor, at: datetime) -> None:
    if news.taken_at is not None:
        text = f"{news.taken_by} has taken it."
        raise NoticeTaken(text)
    News.objects.filter(pk=news.pk).update(taken_at=at, taken_by_id=actor.user_id)
    logbook.write(
        site_id=news.site_id,
        actor=actor,
        at=at,
        act="notice.taken",
        subject_kind="finding" if news.finding_id else "work_order",
        subject_id=news.finding_id or news.order_id or news.pk,
        detail={"news_id": news.pk, "kind": news.kind, "sequence": news.sequence},
    )


def choose(
    *, actor: Actor, at: datetime, site_id: uuid.UUID, version: int | None = None, **wishes: Any
) -> Preference:
    """Keep how a person wants to hear from a site. Raises QuietHoursHalf, PreconditionFailed."""
    mine: dict[str, Any] = {"site_id": site_id, "user_id": _person(actor)}
    with transaction.atomic():
        Preference.objects.bulk_create([Preference(**mine)], ignore_conflicts=True)
        row = Preference.objects.get(**mine)
        start = wishes.get("quiet_from_hour", row.quiet_from_hour)
        end = wishes.get("quiet_until_hour", row.quiet_until_hour)
        if (start is None) != (end is None):
            where = "/quiet_until_hour" if end is None else "/quiet_from_hour"
            raise QuietHoursHalf(errors=[FieldError(where, QuietHoursHalf.code, QuietHoursHalf.title)])
        changed = versions.change(row, version, wishes)
        if changed:
            logbook.write(
                site_id=site_id,
                actor=actor,
                at=at,
                act="preference.changed",
                subject_kind="preference",
                subject_id=row.pk,
                subject_version=row.version,
                detail={"changed": changed},
            )
    return row
