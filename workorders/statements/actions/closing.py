"""Freeze a month: its figures, the digest of what they stand on, and who closed it."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction

from findings.logbook import actions as logbook
from findings.plant.models import Site
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, NotFound, Refusal
from workorders.statements import queries
from workorders.statements.models import ClosedMonth
from workorders.statements.queries import SiteFacts
from workorders.statements.rules import (
    UNPRICED,
    MonthFigures,
    columns_of,
    frozen_form,
    last_due,
    month_at,
    month_bounds,
    months_from,
)

DAYS_TO_SETTLE: Final = 3
"""Days that late readings and reports of a month have before the job closes it (our judgement)."""

MOST_AT_ONCE: Final = 60


class SiteUnknown(NotFound):
    """No such site."""


class MonthNotEnded(Conflict):
    """A month is closed when it is over by the site's clock."""

    code = "month_not_ended"
    title = "The month has not ended yet by the site's clock."


class MonthBeforeStart(Conflict):
    """Nothing was kept here of that month."""

    code = "month_before_start"
    title = "The site has nothing to close in that month."


class MonthUnpriced(Conflict):
    """A frozen figure never lacks a price."""

    code = "price_missing"
    title = "The month cannot be closed while a price is missing."


def close_month(*, actor: Actor, at: datetime, site_id: uuid.UUID, month_on: date) -> ClosedMonth:
    """Close a site's month as it is known now; a month that is closed stays and is returned as it is.

    Raises SiteUnknown, MonthNotEnded, MonthBeforeStart, MonthUnpriced (naming the gaps).
    """
    site = Site.objects.filter(pk=site_id).first()
    if site is None:
        raise SiteUnknown
    known = queries.closed_month(site_id, month_on)
    if known is not None:
        return known
    zone = ZoneInfo(site.time_zone)
    start, end = month_bounds(month_on, zone)
    if at < end:
        text = f"It ends at {end.isoformat()}."
        raise MonthNotEnded(text)
    first = queries.first_month(site)
    if end <= site.created_at and (first is None or month_on < first):
        raise MonthBeforeStart
    return _close(queries.facts_for(site, month_at(start, zone), at), month_at(start, zone), actor, at)


def close_due_months(
    *,
    actor: Actor,
    at: datetime,
    site_ids: Sequence[uuid.UUID] | None = None,
    limit: int = MOST_AT_ONCE,
) -> Mapping[str, Any]:
    """Close each site's months that ended at least three days ago, in their order; say how many.

    A month that cannot be closed stops its own site only and is told. A second run closes nothing.
    """
    closed, refused = 0, []
    sites = Site.objects.order_by("code")
    for site in sites if site_ids is None else sites.filter(pk__in=list(site_ids)):
        try:
            for _ in _close_due(site, actor, at, limit - closed):
                closed += 1
        except Refusal as refusal:
            refused.append(f"{site.code}: {refusal.detail}"[:300])
    return {"closed": closed, "refused": len(refused), "reasons": refused[:20]}


def _close_due(site: Site, actor: Actor, at: datetime, limit: int) -> Iterator[ClosedMonth]:
    due = _due(site, at)[: max(limit, 0)]
    if not due:
        return
    # Read once for all months: none of them lies past the last one's end.
    facts = queries.facts_for(site, due[-1], at)
    for month_on in due:
        yield _close(facts, month_on, actor, at)


def _due(site: Site, at: datetime) -> list[date]:
    first = queries.first_month(site)
    if first is None:
        return []
    due = months_from(first, last_due(at, ZoneInfo(site.time_zone), DAYS_TO_SETTLE))
    closed = set(ClosedMonth.objects.filter(site=site).values_list("month_on", flat=True))
    return [month_on for month_on in due if month_on not in closed]


def _close(facts: SiteFacts, month_on: date, actor: Actor, at: datetime) -> ClosedMonth:
    figures = queries.figures_of(facts, month_on)
    _refuse_unpriced(figures)
    row = ClosedMonth(
        site=facts.site,
        month_on=month_on,
        closed_at=at,
        currency=figures.currency,
        figures=frozen_form(figures),
        inputs_digest=queries.digest_of(facts, month_on),
        actor_name=actor.name[:200],
        **columns_of(figures),
    )
    try:
        with transaction.atomic():
            row.save(force_insert=True)
            _log(row, actor, at)
    except IntegrityError:
        # Somebody closed it in the same moment; then theirs is the month as closed.
        known = queries.closed_month(facts.site.pk, month_on)
        if known is None:
            raise
        return known
    return row


def _refuse_unpriced(figures: MonthFigures) -> None:
    gaps = {figure: figures.refused[figure] for figure in UNPRICED if figure in figures.refused}
    if gaps:
        text = f"{figures.month_on:%Y-%m}: {' '.join(dict.fromkeys(gaps.values()))}"
        raise MonthUnpriced(text, gaps=gaps)


def _log(row: ClosedMonth, actor: Actor, at: datetime) -> None:
    logbook.write(
        site_id=row.site_id,
        actor=actor,
        at=at,
        act="month.closed",
        subject_kind="month",
        subject_id=row.pk,
        detail={
            "month": f"{row.month_on:%Y-%m}",
            "currency": row.currency,
            **queries.money_of(row),
            "inputs_digest": bytes(row.inputs_digest).hex(),
        },
    )
