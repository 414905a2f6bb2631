"""Read the addresses of calendars, and what each calendar shows."""

from __future__ import annotations

import hmac
import uuid
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Max, Q, QuerySet
from django.urls import reverse

from findings.logbook.models import Entry
from findings.plant.models import Membership
from findings.plant.rules import Role
from findings.routes.models import VisitRequest
from findings.routes.rules import VisitState
from plantcare.people.authentication import digest_of
from workorders.feeds.models import CalendarFeed
from workorders.feeds.rules import ENDED_SHOWN_FOR, CalendarItem, FeedScope
from workorders.orders.models import OrderFinding, WorkOrder
from workorders.orders.queries import orders, with_clock
from workorders.orders.rules import OPEN_STATES

MOST_ORDERS = 1_000
MOST_VISITS = 500
_NEVER = bytes(32)


def feeds_of(user_id: int | None) -> QuerySet[Any]:
    """Return a person's addresses, revoked ones too; a door narrows them to the sites seen."""
    return CalendarFeed.objects.filter(user_id=user_id or 0).select_related("site")


def feed_at(token: str) -> CalendarFeed | None:
    """Return the live calendar of a secret address, or None; in the same time whatever is wrong with it."""
    prefix, _, secret = token.partition("_")
    feed = CalendarFeed.objects.select_related("site", "user").filter(prefix=prefix).first()
    kept = bytes(feed.digest) if feed is not None else _NEVER
    fits = hmac.compare_digest(digest_of(secret), kept)
    return feed if feed is not None and fits and feed.revoked_at is None else None


@dataclass(frozen=True, slots=True)
class Revision:
    """How often, and when, a thing last changed: its last place in the logbook."""

    sequence: int
    at: datetime


def items_of(feed: CalendarFeed, at: datetime) -> list[CalendarItem]:
    """Return what a calendar shows now: promised and scheduled times of orders, and visits."""
    shown = _orders(feed, at)
    revisions = _revisions_of_orders(shown)
    items = [item for order in shown for item in _of_order(order, revisions)]
    live = {item.uid for item in items}
    items += [item for item in _taken_off(feed, at) if item.uid not in live]
    return items + (_visits(feed, at) if _shows_visits(feed) else [])


def _orders(feed: CalendarFeed, at: datetime) -> list[Any]:
    fresh = Q(state__in=list(OPEN_STATES)) | Q(ended_at__gt=at - ENDED_SHOWN_FOR)
    rows = orders().filter(fresh, site_id=feed.site_id)
    if feed.scope == FeedScope.MINE:
        rows = rows.filter(assignee_id=feed.user_id)
    # With every stop taken to run its term, the promised time stands still while one is in force.
    return list(with_clock(rows, None).order_by("-due_at", "id")[:MOST_ORDERS])


def _revisions_of_orders(shown: Iterable[WorkOrder]) -> dict[uuid.UUID, Revision]:
    """Return each order's last revision; what its findings go through moves its promised time."""
    ids = [order.pk for order in shown]
    ties = list(OrderFinding.objects.filter(order_id__in=ids).values_list("order_id", "finding_id"))
    by_subject = _revisions([*ids, *(finding_id for _, finding_id in ties)])
    found = {pk: by_subject[pk] for pk in ids if pk in by_subject}
    for order_id, finding_id in ties:
        other = by_subject.get(finding_id)
        if other is not None and (order_id not in found or other.sequence > found[order_id].sequence):
            found[order_id] = other
    return found


def _revisions(subject_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, Revision]:
    rows = Entry.objects.filter(subject_id__in=list(subject_ids)).order_by()
    last = rows.values("subject_id").annotate(sequence=Max("sequence"), last_at=Max("recorded_at"))
    return {row["subject_id"]: Revision(row["sequence"], row["last_at"]) for row in last}


def _of_order(order: Any, revisions: Mapping[uuid.UUID, Revision]) -> Iterator[CalendarItem]:
    revision = revisions.get(order.pk, Revision(order.version, order.created_at))
    ended = order.ended_at is not None
    by = order.verify_by_at if order.repaired_at is not None and order.verify_by_at else order.clock_due_at
    what = "check the repair" if by == order.verify_by_at else "due"
    about: dict[str, Any] = {
        "sequence": revision.sequence,
        "revised_at": revision.at,
        "description": f"{order.priority}, {order.state.replace('_', ' ')}\n{order.title}",
        "location": f"{order.asset.code} {order.asset.name}, {order.area.name}",
        "address": _address("desk_order", order.pk),
        "cancelled": ended,
    }
    yield CalendarItem(uid=f"due-{order.pk}", summary=f"{order} {what}: {order.title}", at=by, **about)
    when = order.scheduled_for_at
    if when is not None and (not ended or when > order.ended_at):
        summary = f"{order}: {order.title}"
        yield CalendarItem(uid=f"work-{order.pk}", summary=summary, at=when, busy=True, **about)


def _taken_off(feed: CalendarFeed, at: datetime) -> Iterator[CalendarItem]:
    """Yield as cancelled what was scheduled lately; the caller leaves out what still stands."""
    rows = Entry.objects.filter(
        site_id=feed.site_id, act="work_order.scheduled", recorded_at__gt=at - 2 * ENDED_SHOWN_FOR
    )
    if feed.scope == FeedScope.MINE:
        rows = rows.filter(detail__evidence__assignee=feed.user_id)
    last = {row.subject_id: row for row in rows.order_by("sequence")[:MOST_ORDERS]}
    revisions = _revisions(last)
    for order in orders().filter(pk__in=list(last)):
        planned = last[order.pk].detail["evidence"].get("scheduled_for")
        if isinstance(planned, str):
            yield CalendarItem(
                uid=f"work-{order.pk}",
                sequence=revisions[order.pk].sequence,
                revised_at=revisions[order.pk].at,
                summary=f"{order}: {order.title}",
                at=datetime.fromisoformat(planned),
                cancelled=True,
            )


def _shows_visits(feed: CalendarFeed) -> bool:
    """Tell whether visits are part of a calendar: of a site's always, of one's own for who walks there."""
    if feed.scope == FeedScope.SITE:
        return True
    walks = Membership.objects.filter(user_id=feed.user_id, site_id=feed.site_id, role=Role.INSPECTOR)
    return walks.filter(ended_at__isnull=True).exists()


def _visits(feed: CalendarFeed, at: datetime) -> list[CalendarItem]:
    today = at.astimezone(ZoneInfo(feed.site.time_zone)).date()
    fresh = Q(state=VisitState.WANTED) | Q(due_on__gte=today - ENDED_SHOWN_FOR)
    rows = VisitRequest.objects.filter(fresh, site_id=feed.site_id).select_related("point__asset__area")
    shown = list(rows.order_by("-due_on", "id")[:MOST_VISITS])
    revisions = _revisions(visit.pk for visit in shown)
    return [
        CalendarItem(
            uid=f"visit-{visit.pk}",
            sequence=visit.version,
            revised_at=revisions[visit.pk].at if visit.pk in revisions else visit.created_at,
            summary=f"Visit {visit.point.code}: {visit.reason.replace('_', ' ')}",
            description=visit.note,
            location=f"{visit.point.asset.code} {visit.point.asset.name}, {visit.point.asset.area.name}",
            on=visit.due_on,
            cancelled=visit.state != VisitState.WANTED,
        )
        for visit in shown
    ]


def _address(name: str, pk: uuid.UUID) -> str:
    return f"{settings.PLANTCARE_PUBLIC_URL.rstrip('/')}{reverse(name, kwargs={'id': pk})}"


def address_of(token: str) -> str:
    """Return the whole secret address of a calendar."""
    return f"{settings.PLANTCARE_PUBLIC_URL.rstrip('/')}{reverse('calendar-file', kwargs={'token': token})}"
