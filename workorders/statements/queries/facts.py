"""All that is known of sites' findings, read at once: a constant number of queries, whatever their number."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from findings.deferrals.models import Deferral
from findings.logbook.models import Entry
from findings.losses.models import LossSegment
from findings.plant.models import Site
from findings.register.models import Finding
from workorders.orders.models import OrderFinding
from workorders.orders.rules import OrderState, Pause, extend
from workorders.statements.queries.prices import price_series
from workorders.statements.rules import (
    ACTS,
    Chronicle,
    Event,
    EventKind,
    FindingHistory,
    LossFact,
    PriceSeries,
    RecordedAct,
)
from workorders.verification.models import Verification

FOLLOWED_SINCE: Final = timedelta(days=7)
"""A finding that was entered so much later than it was found is watched from its entry on (our judgement)."""


_PROMISED: Final = ("due_at", "clock_from_at", "repaired_at", "verify_by_at")


@dataclass(frozen=True, slots=True)
class SiteFacts:
    """A site's findings and prices, as known at a moment."""

    site: Site
    zone: ZoneInfo
    as_of: datetime
    histories: tuple[FindingHistory, ...]
    prices: PriceSeries


@dataclass(slots=True)
class _Found:
    """What belongs to one finding, while it is gathered."""

    losses: list[LossFact] = field(default_factory=list)
    deferrals: list[Deferral] = field(default_factory=list)
    orders: list[OrderFinding] = field(default_factory=list)


def facts_of(sites: Iterable[Site], as_of: datetime, found_before: datetime) -> dict[uuid.UUID, SiteFacts]:
    """Read the facts of sites that were recorded by `as_of`, of findings that were found before a moment.

    Nine queries, however many sites and findings.
    """
    sites = list(sites)
    of_site: dict[uuid.UUID, list[FindingHistory]] = defaultdict(list)
    findings = list(_findings(sites, found_before))
    events = _events(sites, as_of)
    gathered = _gather(sites, as_of)
    zones = {site.pk: ZoneInfo(site.time_zone) for site in sites}
    for finding in findings:
        history = _history(finding, events.get(str(finding.pk), []), gathered[finding.pk], zones)
        of_site[finding.site_id].append(history)
    prices = price_series(sites, as_of)
    return {
        site.pk: SiteFacts(site, zones[site.pk], as_of, tuple(of_site[site.pk]), prices[site.pk])
        for site in sites
    }


def _findings(sites: Sequence[Site], found_before: datetime) -> QuerySet[Finding]:
    rows = Finding.objects.filter(site__in=sites, found_at__lt=found_before)
    shown = ("number", "site_id", "found_at", "created_at", "closed_at")
    rows = rows.select_related("asset__area").only(*shown, "asset__decommissioned_at", "asset__area__code")
    return rows.order_by("site_id", "number")


def _events(sites: Sequence[Site], as_of: datetime) -> dict[str, list[Event]]:
    judged = Verification.objects.filter(site__in=sites, recorded_at__lte=as_of)
    chronicle = Chronicle(
        {
            (str(finding_id), str(reading_id)): at
            for finding_id, reading_id, at in judged.values_list("finding_id", "reading_id", "at")
        }
    )
    acts = Entry.objects.filter(site__in=sites, subject_kind="finding", act__in=ACTS, at__lte=as_of)
    rows = acts.order_by("site_id", "sequence").values_list("subject_id", "act", "at", "detail")
    chronicle.add_all(RecordedAct(str(key), act, at, detail) for key, act, at, detail in rows)
    return chronicle.events


def _gather(sites: Sequence[Site], as_of: datetime) -> dict[uuid.UUID, _Found]:
    gathered: dict[uuid.UUID, _Found] = defaultdict(_Found)
    for segment in LossSegment.objects.filter(site__in=sites, recorded_at__lte=as_of).order_by("id"):
        gathered[segment.finding_id].losses.append(_loss(segment))
    deferrals = Deferral.objects.filter(site__in=sites, approved_at__lte=as_of).order_by("approved_at", "id")
    for deferral in deferrals:
        gathered[deferral.finding_id].deferrals.append(deferral)
    never = [OrderState.DRAFT, OrderState.CANCELLED]
    ties = OrderFinding.objects.filter(site__in=sites, order__opened_at__lte=as_of).exclude(
        order__state__in=never
    )
    ties = ties.select_related("order").only("finding_id", *(f"order__{name}" for name in _PROMISED))
    for tie in ties.order_by("order__opened_at", "id"):
        gathered[tie.finding_id].orders.append(tie)
    return gathered


def _loss(segment: LossSegment) -> LossFact:
    return LossFact(
        str(segment.system_id),
        segment.leak_rate_m3_per_s,
        segment.started_at,
        segment.recorded_at,
        segment.ended_at,
        segment.end_recorded_at,
        segment.void_at,
        segment.low_m3_per_s,
        segment.high_m3_per_s,
    )


def _history(
    finding: Finding, events: list[Event], found: _Found, zones: dict[uuid.UUID, ZoneInfo]
) -> FindingHistory:
    told = events or [Event(EventKind.FOUND, finding.found_at, finding.created_at)]
    due: dict[str, Any] = {}
    if found.orders:
        order = found.orders[-1].order
        pauses = [Pause(*_span(one)) for one in found.deferrals if _span(one)[0] >= order.clock_from_at]
        due = {
            "due_at": order.due_at,
            "extended_due_at": extend(order.due_at, pauses, zones[finding.site_id]),
        }
    late = finding.created_at - finding.found_at > FOLLOWED_SINCE
    return FindingHistory(
        str(finding.pk),
        f"F-{finding.number}",
        (*_with_checks(told, found.orders), *_waits(found.deferrals), *_gone(finding)),
        tuple(found.losses),
        finding.asset.area.code,
        watched_from=finding.created_at if late else None,
        **due,
    )


def _with_checks(events: Iterable[Event], ties: Iterable[OrderFinding]) -> Iterator[Event]:
    """Tell of each repair when its order promised the check."""
    promised = {tie.order.repaired_at: tie.order.verify_by_at for tie in ties}
    for event in events:
        if event.kind is EventKind.REPAIRED and promised.get(event.at) is not None:
            yield Event(event.kind, event.at, event.recorded_at, check_due_at=promised[event.at])
        else:
            yield event


def _waits(deferrals: Iterable[Deferral]) -> Iterator[Event]:
    for deferral in deferrals:
        begin, end = _span(deferral)
        yield Event(EventKind.DEFERRED, begin, begin)
        yield Event(EventKind.DEFERRAL_ENDED, end, end)


def _span(deferral: Deferral) -> tuple[datetime, datetime]:
    """Give when a deferral was in force: from its approval, never past its day."""
    begin = deferral.approved_at
    assert begin is not None  # noqa: S101 - the query asks for approved ones only
    return begin, max(begin, min(deferral.ended_at or deferral.until_at, deferral.until_at))


def _gone(finding: Finding) -> Iterator[Event]:
    """Tell that the asset went out of service after the finding had ended: its saving ends there."""
    gone_at = finding.asset.decommissioned_at
    if gone_at is not None and finding.closed_at is not None and finding.closed_at <= gone_at:
        yield Event(EventKind.REMOVED, gone_at, gone_at)
