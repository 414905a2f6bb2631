"""Keep which waiting stops which clock at a site, and write down how an order runs and waits."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from django.db import transaction
from django.db.models import F

from findings.logbook import actions as logbook
from findings.plant.models import Site
from plantcare.api.actor import Actor
from plantcare.api.etags import stale
from plantcare.api.problems import FieldError, NotFound, Unprocessable
from workorders.calendars.queries import calendar_of
from workorders.orders.actions.levels import end_of_day
from workorders.orders.models import ClockSegment, PauseRule, WorkOrder
from workorders.orders.queries import clocks_of
from workorders.orders.rules import (
    FINAL_STATES,
    Clock,
    ClockReading,
    Follow,
    Granted,
    Move,
    OrderState,
    Pause,
    PriorityClass,
    WaitReason,
    default_pauses,
    granted,
    pause_fault,
    put_off,
)

DEFAULT_SOURCE: Final = "Starting values of the program."
SAFETY_SOURCE: Final = "Delay of repair: 40 CFR 60.482-9(a), 61.242-10(a)."


class PauseRuleUnknown(NotFound):
    """No such row."""


class PauseRefused(Unprocessable):
    """The clocks may not stand still for this."""

    code = "pause_refused"
    title = "The clocks may not stand still for this."


def seed_pauses(*, site_ids: Sequence[uuid.UUID] | None, at: datetime) -> None:
    """Write the default table of sites that have none yet; None means all sites."""
    sites = Site.objects.all() if site_ids is None else Site.objects.filter(pk__in=list(site_ids))
    bare = sites.exclude(pk__in=PauseRule.objects.values("site_id")).values_list("pk", flat=True)
    rows = [
        PauseRule(
            site_id=pk,
            wait_reason=reason,
            for_safety=for_safety,
            pauses=sorted(default_pauses(reason, for_safety=for_safety)),
            source=SAFETY_SOURCE if for_safety else DEFAULT_SOURCE,
            created_at=at,
        )
        for pk in bare
        for reason in WaitReason
        for for_safety in (False, True)
    ]
    if rows:
        PauseRule.objects.bulk_create(rows, ignore_conflicts=True)


def change_pauses(
    *,
    actor: Actor,
    at: datetime,
    rule_id: uuid.UUID,
    version: int | None = None,
    pauses: Collection[str] | None = None,
    source: str | None = None,
) -> PauseRule:
    """Change which clocks a reason stops, from the next wait on.

    Raises PauseRuleUnknown, PauseRefused, or 412 for an older version.
    """
    with transaction.atomic():
        row = PauseRule.objects.filter(pk=rule_id).first()
        if row is None:
            raise PauseRuleUnknown
        if version is not None and version != row.version:
            raise stale(row.version)
        clocks = frozenset(Clock(clock) for clock in (row.pauses if pauses is None else pauses))
        fault = pause_fault(WaitReason(row.wait_reason), clocks, for_safety=row.for_safety)
        if fault:
            raise PauseRefused(fault, errors=[FieldError("/pauses", PauseRefused.code, fault)])
        given = {"pauses": sorted(clocks), "source": row.source if source is None else source}
        was = {name: getattr(row, name) for name in given}
        same = PauseRule.objects.filter(pk=row.pk, version=row.version)
        if not same.update(version=F("version") + 1, **given):
            raise stale(PauseRule.objects.values_list("version", flat=True).get(pk=row.pk))
        row.refresh_from_db()
        logbook.write(
            site_id=row.site_id,
            actor=actor,
            at=at,
            act="pause_rule.changed",
            subject_kind="pause_rule",
            subject_id=row.pk,
            subject_version=row.version,
            detail={"wait_reason": row.wait_reason, "for_safety": row.for_safety, "from": was, "to": given},
        )
    return row


def wait_reason_of(given: Mapping[str, object]) -> WaitReason:
    """Return what a move waits for; a repair that needs a shutdown says so by its outcome."""
    return WaitReason(str(given.get("wait_reason") or WaitReason.SHUTDOWN))


def granted_to(order: WorkOrder, reason: WaitReason, at: datetime) -> Granted:
    """Return which clocks a wait that begins now stops, by the site's table and what hazards allow."""
    seed_pauses(site_ids=[order.site_id], at=at)
    row = PauseRule.objects.get(site_id=order.site_id, wait_reason=reason, for_safety=order.is_safety)
    ends_at = None
    if order.is_safety and reason is WaitReason.SHUTDOWN:
        calendar = calendar_of(order.site)
        shutdown = calendar.next_shutdown(at.astimezone(calendar.zone).date())
        ends_at = None if shutdown is None else end_of_day(calendar, shutdown.last_on)
    return granted(
        reason,
        frozenset(Clock(clock) for clock in row.pauses),
        priority=PriorityClass(order.priority),
        is_safety=order.is_safety,
        shutdown_ends_at=ends_at,
    )


def clock_fields(order: WorkOrder, row: Move, held: Granted, at: datetime) -> dict[str, Any]:
    """Return what a move does to the clock of the repair, as fields of the order.

    A wait holds it where it has not run out; when the wait is over, what was left then is left still.
    """
    if row.source is OrderState.WAITING and row.target is not OrderState.WAITING:
        due = {} if order.clock_paused_at is None else {"due_at": due_after_wait(order, at)}
        return {**due, "clock_paused_at": None, "clock_paused_until_at": None}
    if row.target is OrderState.WAITING and Clock.REPAIR in held.clocks:
        clock = _repair_clock(order, at)
        if clock.breached_at is None:
            return {"clock_paused_at": at, "clock_paused_until_at": held.until}
    return {}


def due_after_wait(order: WorkOrder, at: datetime) -> datetime:
    """Return the due time once the wait is over. Deferrals are no part of it, and what of them lies in the
    wait counts as the wait.
    """
    if order.clock_paused_at is None:
        return order.due_at
    began = order.clock_paused_at
    ends = [at] if order.clock_paused_until_at is None else [at, order.clock_paused_until_at]
    before = _repair_clock(order, began)
    calendar = calendar_of(order.site)
    moved = put_off(before.due_at, Pause(began, max(began, min(ends))), before.unit, calendar)
    return max(order.due_at, order.due_at + (moved - before.due_at))


def _repair_clock(order: WorkOrder, at: datetime) -> ClockReading:
    return next(clock for clock in clocks_of([order], at)[order.pk] if clock.clock is Clock.REPAIR)


def turn(
    order: WorkOrder, row: Move, held: Granted, given: Mapping[str, object], actor: Actor, at: datetime
) -> None:
    """Write down that an order begins to wait, runs again or ends, where a move changes that."""
    waits = row.target is OrderState.WAITING
    if waits == (row.source is OrderState.WAITING) and Follow.CLOCKS_STARTED not in row.follows:
        if row.target in FINAL_STATES:
            _end(order, at)
        return
    _end(order, at)
    if row.target not in FINAL_STATES:
        begin(order, actor, at, reason=wait_reason_of(given) if waits else None, text=given, held=held)


def wait_on(order: WorkOrder, actor: Actor, at: datetime) -> None:
    """Let an order wait on while its clocks run again: what allowed the pause holds no longer."""
    waiting = ClockSegment.objects.filter(order=order, ended_at__isnull=True).exclude(wait_reason="").first()
    if waiting is not None:
        _end(order, at)
        begin(order, actor, at, reason=WaitReason(waiting.wait_reason), text={"text": waiting.text})


def _end(order: WorkOrder, at: datetime) -> None:
    ClockSegment.objects.filter(order=order, ended_at__isnull=True).update(ended_at=at)


def begin(
    order: WorkOrder,
    actor: Actor,
    at: datetime,
    *,
    reason: WaitReason | None = None,
    text: Mapping[str, object] | None = None,
    held: Granted | None = None,
) -> None:
    """Begin a stretch of an order's life: running, or waiting for something."""
    ClockSegment.objects.create(
        site_id=order.site_id,
        order=order,
        began_at=at,
        wait_reason=reason or "",
        text="" if reason is None else str((text or {}).get("text") or "").strip()[:300],
        pauses=[] if held is None or reason is None else sorted(held.clocks),
        pauses_until_at=None if held is None else held.until,
        for_safety=order.is_safety,
        user_id=actor.user_id,
        by_name=actor.name[:200],
    )
