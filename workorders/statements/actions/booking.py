"""Book what became known of closed months since; the month as closed stays as it is."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any, Final

from django.db import IntegrityError, transaction

from findings.logbook import actions as logbook
from findings.plant.models import Site
from plantcare.api.actor import Actor
from workorders.statements import queries
from workorders.statements.models import ClosedMonth, Correction
from workorders.statements.queries import SiteFacts
from workorders.statements.rules import UNPRICED, Booking, booking_of, month_at

FINDINGS_NAMED: Final = 200
"""How many findings a correction names; it always tells their number."""

MOST_MONTHS: Final = 60


def book_corrections(
    *, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None = None
) -> Mapping[str, Any]:
    """Book one correction, dated in the present month, for each closed month that is known otherwise now.

    A month gets one correction in a month at most: what becomes known after it is booked in the next.
    Looked at are a site's last sixty closed months. A second run books nothing. Returns counts.
    """
    counts = {"booked": 0, "unpriced": 0}
    sites = Site.objects.order_by("code")
    for site in sites if site_ids is None else sites.filter(pk__in=list(site_ids)):
        for outcome in _book_site(site, actor, at):
            counts[outcome] += 1
    return counts


def _book_site(site: Site, actor: Actor, at: datetime) -> list[str]:
    months = list(ClosedMonth.objects.filter(site=site).order_by("-month_on")[:MOST_MONTHS])
    if not months:
        return []
    facts = queries.facts_for(site, months[0].month_on, at)
    booked_in_on = month_at(at, facts.zone)
    booked: dict[uuid.UUID, list[Correction]] = defaultdict(list)
    for row in Correction.objects.filter(month__in=months):
        booked[row.month_id].append(row)
    open_to_booking = [
        month for month in months if all(row.booked_in_on != booked_in_on for row in booked[month.pk])
    ]
    outcomes = [_book(facts, month, booked[month.pk], booked_in_on, actor) for month in open_to_booking]
    return [outcome for outcome in outcomes if outcome]


def _book(
    facts: SiteFacts, month: ClosedMonth, before: Sequence[Correction], booked_in_on: date, actor: Actor
) -> str:
    known = queries.figures_of(facts, month.month_on)
    if any(figure in known.refused for figure in UNPRICED):
        return "unpriced"
    booking = booking_of(
        queries.money_of(month), month.figures, [queries.booking_from(row) for row in before], known
    )
    if not booking.says_something:
        return ""
    try:
        with transaction.atomic():
            _write(month, booking, booked_in_on, actor, facts.as_of)
    except IntegrityError:
        if not Correction.objects.filter(month=month, booked_in_on=booked_in_on).exists():
            raise
        return ""
    return "booked"


def _write(month: ClosedMonth, booking: Booking, booked_in_on: date, actor: Actor, at: datetime) -> None:
    correction = Correction.objects.create(
        site_id=month.site_id,
        month=month,
        booked_in_on=booked_in_on,
        at=at,
        detail={
            "counts": dict(booking.counts),
            "findings": list(booking.findings[:FINDINGS_NAMED]),
            "findings_changed": len(booking.findings),
        },
        **booking.money,
    )
    logbook.write(
        site_id=month.site_id,
        actor=actor,
        at=at,
        act="month.corrected",
        subject_kind="month",
        subject_id=month.pk,
        detail={
            "correction_id": correction.pk,
            "month": f"{month.month_on:%Y-%m}",
            "booked_in": f"{booked_in_on:%Y-%m}",
            "currency": month.currency,
            **booking.money,
            "counts": dict(booking.counts),
        },
    )
