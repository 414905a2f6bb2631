"""Tell people of what the logbook holds: one news per entry, one notice per person, and their mails."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.db import transaction

from findings.kinds.base import Kind, Medium
from findings.kinds.cautions import cautions
from findings.kinds.registry import kind_of
from findings.logbook import actions as logbook
from findings.logbook.actions import Act
from findings.plant.models import Site
from findings.plant.rules import Role
from plantcare.api.actor import Actor
from workorders.clocks.queries import sites
from workorders.inbox.actions.mailing import write_mails
from workorders.inbox.models import News, Notice
from workorders.inbox.queries import telling
from workorders.inbox.queries.notices import wishes_at
from workorders.inbox.queries.telling import Subject
from workorders.inbox.rules import (
    DEFERRAL_ENDING_ACT,
    TOLD,
    USUAL,
    Matter,
    NoticeKind,
    People,
    Wishes,
    addressees,
    mail_from,
    words_of,
)

CHUNK: Final = 500
OLD_NEWS: Final = timedelta(days=14)
"""An act of longer ago is history, not news: a register taken over must not ring every bell (our choice)."""

DEFERRAL_AHEAD: Final = timedelta(days=3)
"""How long before its end a deferral is spoken of (our choice)."""


def tell(*, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None = None) -> dict[str, int]:
    """Tell people of each site what happened since the last run, and write the mails that are due.

    Reads the logbook in its order, in chunks of one transaction; nothing is told twice, however many runs
    there are. Returns how many notices and mails were made.
    """
    told = {"notices": 0, "mails": 0}
    for site in sites(site_ids):
        _speak_of_deferrals(site, actor, at)
        more = True
        while more:
            notices, mails, more = _tell_chunk(site, at)
            told["notices"] += notices
            told["mails"] += mails
        told["mails"] += _write_due(site, at)
    return told


@transaction.atomic
def _speak_of_deferrals(site: Site, actor: Actor, at: datetime) -> None:
    """Write down that a deferral ends soon: the one thing told here that nobody does."""
    if telling.locked_mark(site) is None:
        return
    acts = [
        Act(
            act=DEFERRAL_ENDING_ACT,
            subject_kind="deferral",
            subject_id=deferral.pk,
            subject_version=deferral.version,
            detail={"finding_id": deferral.finding_id, "until_at": deferral.until_at},
        )
        for deferral in telling.deferrals_ending(site.pk, at, DEFERRAL_AHEAD)[:CHUNK]
    ]
    logbook.write_many(site_id=site.pk, actor=actor, at=at, acts=acts)


@transaction.atomic
def _tell_chunk(site: Site, at: datetime) -> tuple[int, int, bool]:
    """Tell one chunk of a site's logbook; return how many notices and mails, and whether there is more."""
    mark = telling.locked_mark(site)
    if mark is None:
        return 0, 0, False
    entries, mark.sequence = telling.untold(mark, CHUNK)
    mark.save(update_fields=["sequence"])
    fresh = [entry for entry in entries if entry.at > at - OLD_NEWS]
    if not fresh:
        return 0, 0, len(entries) == CHUNK
    people, wishes = telling.people_at(site.pk), wishes_at(site.pk)
    made = [
        (news, named)
        for subject in telling.subjects(fresh)
        if (named := _addressees(subject, people)) and (news := _news(site, subject)) is not None
    ]
    News.objects.bulk_create([news for news, _ in made])
    # Who is asked for several steps of one climb at once hears of the highest.
    climbs = [(news, named) for news, named in made if news.escalation is not None]
    highest = {(user_id, news.finding_id): news for news, named in climbs for user_id in named}
    notices = [
        _notice(site, news, user_id, wishes)
        for news, named in made
        for user_id in sorted(named)
        if news is highest.get((user_id, news.finding_id), news) or news.escalation is None
    ]
    Notice.objects.bulk_create(notices)
    # Danger is written to in the transaction that tells of it; the rest when its hour comes.
    return len(notices), write_mails(site, at), len(entries) == CHUNK


@transaction.atomic
def _write_due(site: Site, at: datetime) -> int:
    return write_mails(site, at)


def _addressees(subject: Subject, people: People) -> frozenset[int]:
    entry, order, deferral = subject.entry, subject.order, subject.deferral
    told = TOLD[entry.act]
    if told.kind is NoticeKind.ASSIGNED and not _names_somebody(subject):
        return frozenset()
    if told.only_safety and not (subject.finding is not None and subject.finding.is_safety):
        return frozenset()
    if told.kind is NoticeKind.WORSENED and not subject.worse:
        return frozenset()
    escalation = subject.escalation
    return addressees(
        told,
        people,
        to_role=Role(escalation.to_role) if escalation is not None else None,
        assignee=order.assignee_id if order is not None else None,
        requester=deferral.requested_by_id if deferral is not None else None,
        actor=entry.user_id,
    )


def _names_somebody(subject: Subject) -> bool:
    """Tell whether an act on an order gave it to somebody; a change of its title alone is no news."""
    if subject.entry.act != "work_order.changed":
        return True
    changed = subject.entry.detail
    was, becomes = changed.get("from", {}), changed.get("to", {})
    return bool(becomes.get("assignee_id")) and becomes["assignee_id"] != was.get("assignee_id")


def _news(site: Site, subject: Subject) -> News:
    entry, finding, order = subject.entry, subject.finding, subject.order
    kind = TOLD[entry.act].kind
    words = words_of(kind, _matter(site, subject))
    about = finding if finding is not None else order
    return News(
        site=site,
        sequence=entry.sequence,
        kind=kind,
        is_safety=about is not None and about.is_safety,
        finding=finding,
        order=order,
        escalation=subject.escalation,
        month_on=subject.month_on,
        headline=words.headline,
        todo=words.todo,
        at=entry.at,
    )


def _matter(site: Site, subject: Subject) -> Matter:
    entry, finding, order, deferral = subject.entry, subject.finding, subject.order, subject.deferral
    given: dict[str, Any] = {"act": entry.act, "zone": ZoneInfo(site.time_zone), "reason": entry.reason}
    if subject.escalation is not None:
        given["reason"] = subject.escalation.reason
    if subject.worse:
        given["reason"] = subject.worse
    if order is not None:
        given |= {"order": str(order), "title": order.title, "due_at": order.due_at}
    if finding is not None:
        medium = Medium(finding.medium) if finding.medium else None
        what = f"{kind_of(finding.kind).label.lower()}{f', {medium.value}' if medium else ''}"
        heed = cautions(Kind(finding.kind), medium) if finding.is_safety else ()
        given |= {
            "finding": str(finding),
            "place": f"{finding.asset.code} {finding.asset.name}",
            "caution": heed[0].text if heed else "",
        }
        if TOLD[entry.act].kind is NoticeKind.SAFETY_FOUND:
            given["title"] = f"({what.replace('_', ' ')})"
    if deferral is not None:
        given["until_at"] = deferral.until_at
    if subject.month_on is not None:
        given["month"] = f"{subject.month_on:%B %Y}"
    return Matter(**given)


def _notice(site: Site, news: News, user_id: int, wishes: Mapping[int, Wishes]) -> Notice:
    from_at = mail_from(
        news.at, ZoneInfo(site.time_zone), wishes.get(user_id, USUAL), is_safety=news.is_safety
    )
    return Notice(site=site, news=news, user_id=user_id, at=news.at, mail_from_at=from_at)
