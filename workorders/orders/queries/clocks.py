"""Read the clocks of orders: how much of each promised time is used, and what holds it."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from decimal import ROUND_FLOOR, Decimal
from typing import Any

from django.db.models import QuerySet

from findings.deferrals.models import Deferral
from workorders.calendars.queries import calendars_of
from workorders.calendars.rules import WorkingCalendar
from workorders.orders.models import ClockSegment, OrderFinding, PauseRule, ServiceLevel, WorkOrder
from workorders.orders.queries.orders import orders
from workorders.orders.rules import (
    Clock,
    ClockReading,
    OrderState,
    Promise,
    Span,
    Stop,
    Times,
    Unit,
    add_span,
    read_clock,
)


def pause_rules() -> QuerySet[PauseRule]:
    """Return every site's table of what stops its clocks; a site has rows from its first use on."""
    return PauseRule.objects.select_related("site")


def times_of(row: ServiceLevel) -> Times:
    """Return a site's figures as the rules count them."""

    def span(clock: str) -> Span:
        hours, days = getattr(row, f"{clock}_hours"), getattr(row, f"{clock}_days")
        if days is not None:
            return Span(days, Unit.DAYS)
        unit = Unit.MINUTES if hours is not None else Unit.WORKING_MINUTES
        length = Decimal(hours if hours is not None else getattr(row, f"{clock}_working_hours"))
        return Span(int((length * 60).to_integral_value(ROUND_FLOOR)), unit)

    return Times(span("respond"), span("repair"), span("verify"))


def segments_of(order_ids: Iterable[uuid.UUID]) -> QuerySet[ClockSegment]:
    """Return how orders ran and waited, oldest first."""
    return ClockSegment.objects.filter(order_id__in=list(order_ids)).order_by("began_at", "id")


def waits_of(order_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[tuple[ClockSegment, Stop]]]:
    """Return the waits of orders that held a clock (one query)."""
    found: dict[uuid.UUID, list[tuple[ClockSegment, Stop]]] = defaultdict(list)
    for one in segments_of(order_ids).exclude(pauses=[]):
        stop = Stop(one.began_at, one.ended_at, _why(one), one.by_name, one.pauses_until_at)
        found[one.order_id].append((one, stop))
    return found


def _why(segment: ClockSegment) -> str:
    return f"{segment.wait_reason}: {segment.text}" if segment.text else segment.wait_reason


def deferral_stops_of(order_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[Stop]]:
    """Return the approved deferrals of orders (two queries): those of the finding that waited longest."""
    ties: dict[uuid.UUID, list[uuid.UUID]] = defaultdict(list)
    for finding_id, order_id in OrderFinding.objects.filter(order_id__in=list(order_ids)).values_list(
        "finding_id", "order_id"
    ):
        ties[finding_id].append(order_id)
    each: dict[uuid.UUID, dict[uuid.UUID, list[Stop]]] = defaultdict(lambda: defaultdict(list))
    granted = Deferral.objects.filter(finding_id__in=list(ties), approved_at__isnull=False)
    for one in granted.select_related("approved_by").order_by("approved_at", "id"):
        begun: Any = one.approved_at
        stop = Stop(begun, one.ended_at, f"deferred: {one.reason}", str(one.approved_by), one.until_at)
        for order_id in ties[one.finding_id]:
            each[order_id][one.finding_id].append(stop)
    return {order_id: max(found.values(), key=_length) for order_id, found in each.items()}


def _length(stops: Sequence[Stop]) -> timedelta:
    return sum(((stop.end or stop.until or stop.start) - stop.start for stop in stops), timedelta(0))


def clocks_of(rows: Iterable[WorkOrder], at: datetime) -> dict[uuid.UUID, list[ClockReading]]:
    """Read the clocks of orders at a moment: first answer, repair, and the check once there is one.

    Five queries for any number of orders, their sites loaded.
    """
    held = list(rows)
    ids = [order.pk for order in held]
    waits, deferrals = waits_of(ids), deferral_stops_of(ids)
    calendars = calendars_of({order.site_id: order.site for order in held}.values())
    return {
        order.pk: [
            read_clock(
                promise,
                [stop for one, stop in waits[order.pk] if promise.clock in one.pauses],
                [stop for stop in deferrals.get(order.pk, ()) if _held(stop, promise)],
                at,
                calendars[order.site_id],
            )
            for promise in promises_of(order)
        ]
        for order in held
    }


def _held(stop: Stop, promise: Promise) -> bool:
    """Say whether a deferral holds a clock: it began while that ran, and nobody answers later for it."""
    return promise.clock is not Clock.ACKNOWLEDGE and stop.start >= promise.started_at


def clock_of(order: WorkOrder, at: datetime) -> ClockReading:
    """Read the clock that an order is under: that of its check once it is repaired, else of its repair."""
    return _present(order, clocks_of([order], at)[order.pk])


def shares_of(order_ids: Iterable[uuid.UUID | None], at: datetime) -> dict[uuid.UUID, Decimal]:
    """Return the used share of the clock that each order is under."""
    held = list(orders().filter(pk__in=list(order_ids)))
    read = clocks_of(held, at)
    return {order.pk: _present(order, read[order.pk]).share for order in held}


def _present(order: WorkOrder, clocks: Sequence[ClockReading]) -> ClockReading:
    wanted = Clock.VERIFY if order.repaired_at is not None else Clock.REPAIR
    return next((clock for clock in clocks if clock.clock is wanted), clocks[-1])


def share_without_order(
    level: ServiceLevel, start: datetime, at: datetime, calendar: WorkingCalendar
) -> Decimal:
    """Return the used share of the time that a finding without an order has for its repair."""
    span = times_of(level).repair
    promise = Promise(Clock.REPAIR, span.unit, span.amount, start, add_span(start, span, calendar))
    return read_clock(promise, (), (), at, calendar).share


def promises_of(order: WorkOrder) -> list[Promise]:
    """Return what an order promises, with when each was met or ceased to matter."""
    ended = order.ended_at
    rows = [
        (Clock.ACKNOWLEDGE, order.clock_from_at, order.respond_by_at, order.responded_at),
        (Clock.REPAIR, order.clock_from_at, order.due_at, order.repaired_at),
    ]
    if order.repaired_at is not None and order.verify_by_at is not None:
        closed = ended if order.state == OrderState.CLOSED else None
        rows.append((Clock.VERIFY, order.repaired_at, order.verify_by_at, closed))
    told = []
    for clock, start, due, met in rows:
        kept = order.promise.get(clock.value, {})
        unit, amount = Unit(kept.get("unit", Unit.MINUTES)), kept.get("amount")
        told.append(Promise(clock, unit, amount, start, due, met, ended))
    return told
