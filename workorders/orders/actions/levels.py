"""Keep the times that a site promises, and turn them into due times."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from datetime import datetime, time, timedelta
from typing import Any, Final

from django.db import transaction
from django.db.models import F

from findings.kinds.base import Kind
from findings.logbook import actions as logbook
from findings.plant import actions as plant
from findings.plant.models import Site
from plantcare.api.actor import Actor
from plantcare.api.etags import stale
from plantcare.api.problems import Conflict, FieldError, NotFound, Unprocessable, constraint_refusals
from workorders.calendars.queries import calendar_of
from workorders.calendars.rules import WorkingCalendar
from workorders.orders.models import ServiceLevel
from workorders.orders.queries import times_of
from workorders.orders.rules import (
    DEFAULT_TIMES,
    Clock,
    Level,
    PriorityClass,
    Span,
    Unit,
    due_at,
    faults_of,
    level_of,
)

DEFAULT_SOURCE: Final = "Starting values of the program; for P2 the repair time of 40 CFR 61.242-7."
CLOCKS: Final = ("respond", "repair", "verify")
WAYS: Final = ("hours", "working_hours", "days")
FIGURES: Final = tuple(f"{clock}_{way}" for clock in CLOCKS for way in WAYS)


class LevelUnknown(NotFound):
    """No such service level."""


class LevelRefused(Unprocessable):
    """The times are contradictory, or longer than a hazard allows."""

    code = "service_level_refused"
    title = "These times can't be promised."


class LevelThere(Conflict):
    """One row for each class and kind."""

    code = "service_level_there"
    title = "The site has a row for this class and kind already; change that one."


constraint_refusals["service_level_once_per_priority_and_kind"] = LevelThere


def levels_of(*, site_id: uuid.UUID, at: datetime) -> list[ServiceLevel]:
    """Return a site's levels by class; the first use writes the defaults down."""
    seed_levels(site_ids=[site_id], at=at)
    return list(ServiceLevel.objects.filter(site_id=site_id).order_by("priority", "kind"))


def seed_levels(*, site_ids: Sequence[uuid.UUID] | None, at: datetime) -> None:
    """Write the default levels of sites that have none yet; None means all sites."""
    sites = Site.objects.all() if site_ids is None else Site.objects.filter(pk__in=list(site_ids))
    have = ServiceLevel.objects.filter(priority=PriorityClass.P1, kind="").values("site_id")
    bare = sites.exclude(pk__in=have)
    rows = [_default(pk, one, at) for pk in bare.values_list("pk", flat=True) for one in PriorityClass]
    if rows:
        ServiceLevel.objects.bulk_create(rows, ignore_conflicts=True)


def _default(site_id: uuid.UUID, priority: PriorityClass, at: datetime) -> ServiceLevel:
    times = DEFAULT_TIMES[priority]
    figures: dict[str, Any] = {}
    for clock in CLOCKS:
        span: Span = getattr(times, clock)
        match span.unit:
            case Unit.DAYS:
                figures[f"{clock}_days"] = span.amount
            case Unit.WORKING_MINUTES:
                figures[f"{clock}_working_hours"] = span.hours
            case _:
                figures[f"{clock}_hours"] = span.hours
    if figures.pop("verify_hours", None) is not None:
        figures["verify_days"] = -(-int(times.verify.hours) // 24)
    return ServiceLevel(site_id=site_id, priority=priority, source=DEFAULT_SOURCE, created_at=at, **figures)


def levels_at(
    site_id: uuid.UUID, priority: PriorityClass, kinds: Collection[str], at: datetime, *, is_safety: bool
) -> list[Level]:
    """Return the clocks of a class at a site, one level for each kind; the row that names it goes first."""
    rows = {row.kind: row for row in levels_of(site_id=site_id, at=at) if row.priority == priority}
    chosen = {row.pk: row for row in (rows.get(kind, rows[""]) for kind in kinds or ("",))}
    return [level_of(priority, times_of(row), is_safety=is_safety) for row in chosen.values()]


def promise(
    site: Site,
    levels: Collection[Level],
    clock_from_at: datetime,
    repaired_at: datetime | None = None,
) -> dict[str, Any]:
    """Return the due times of an order as its fields; of several levels each clock takes the earliest."""
    calendar = calendar_of(site)
    shutdown = _next_shutdown(calendar, clock_from_at)

    def first(clock: Clock, start: datetime) -> tuple[datetime, Span] | None:
        found = []
        for level in levels:
            due, span = due_at(level, clock, start, calendar, next_shutdown_at=shutdown), level.span(clock)
            if due is not None and span is not None:
                found.append((due, span))
        return min(found, key=lambda one: one[0], default=None)

    repair = first(Clock.REPAIR, clock_from_at)
    respond = first(Clock.ACKNOWLEDGE, clock_from_at) or repair
    verify = first(Clock.VERIFY, repaired_at or clock_from_at)
    kept = {Clock.ACKNOWLEDGE: respond, Clock.REPAIR: repair, Clock.VERIFY: verify}
    return {
        "clock_from_at": clock_from_at,
        "respond_by_at": None if respond is None else respond[0],
        "due_at": None if repair is None else repair[0],
        "verify_by_at": None if verify is None or repaired_at is None else verify[0],
        "promise": {
            clock.value: {"amount": one[1].amount, "unit": one[1].unit.value}
            for clock, one in kept.items()
            if one is not None
        },
    }


def _next_shutdown(calendar: WorkingCalendar, after: datetime) -> datetime | None:
    """Return the end of the next shutdown that has not begun yet: work for it is done by then."""
    day = after.astimezone(calendar.zone).date()
    coming = [one for one in calendar.shutdowns() if one.first_on > day]
    if not coming:
        return None
    last_on = min(coming, key=lambda one: one.first_on).last_on
    return end_of_day(calendar, last_on)


def end_of_day(calendar: WorkingCalendar, day: Any) -> datetime:
    """Return the end of a local day."""
    return datetime.combine(day + timedelta(days=1), time(), tzinfo=calendar.zone)


def promise_of(
    site: Site, priority: PriorityClass, kinds: Collection[str], at: datetime, *, is_safety: bool
) -> dict[str, Any]:
    """Return the due times of an order whose clocks begin now."""
    return promise(site, levels_at(site.pk, priority, kinds, at, is_safety=is_safety), at)


def add_level(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    priority: PriorityClass,
    kind: Kind,
    source: str,
    **figures: Any,
) -> ServiceLevel:
    """Add the times of a class for one kind of finding, which go before those for every kind.

    ``figures`` are named like respond_hours, repair_working_hours, verify_days: one for each clock. Raises
    LevelRefused, LevelThere.
    """
    seed_levels(site_ids=[site_id], at=at)
    with transaction.atomic():
        row = ServiceLevel(
            site=plant.site_of(site_id),
            priority=priority,
            kind=kind,
            source=source,
            created_at=at,
            **{name: figures.get(name) for name in FIGURES},
        )
        _check(row)
        row.save(force_insert=True)
        _log(row, actor, at, "added", {"priority": priority, "kind": kind, "to": _shown(row)})
    return row


def change_level(
    *, actor: Actor, at: datetime, level_id: uuid.UUID, version: int | None = None, **figures: Any
) -> ServiceLevel:
    """Change a site's times for a class; orders opened before keep what they were promised.

    ``figures`` are source, and times named like respond_hours, repair_working_hours, verify_days; giving one
    of a clock's three ways empties the other two. Raises LevelUnknown, LevelRefused, or 412 for an older
    version.
    """
    with transaction.atomic():
        row = ServiceLevel.objects.filter(pk=level_id).first()
        if row is None:
            raise LevelUnknown
        if version is not None and version != row.version:
            raise stale(row.version)
        given = _with_one_way_each(figures)
        was = _shown(row)
        for name, value in given.items():
            setattr(row, name, value)
        _check(row)
        same = ServiceLevel.objects.filter(pk=row.pk, version=row.version)
        if not same.update(version=F("version") + 1, **given):
            raise stale(ServiceLevel.objects.values_list("version", flat=True).get(pk=row.pk))
        row.refresh_from_db()
        detail = {"priority": row.priority, "kind": row.kind, "from": was, "to": _shown(row)}
        _log(row, actor, at, "changed", detail)
    return row


def _log(row: ServiceLevel, actor: Actor, at: datetime, act: str, detail: dict[str, Any]) -> None:
    logbook.write(
        site_id=row.site_id,
        actor=actor,
        at=at,
        act=f"service_level.{act}",
        subject_kind="service_level",
        subject_id=row.pk,
        subject_version=row.version,
        detail=detail,
    )


def _with_one_way_each(figures: dict[str, Any]) -> dict[str, Any]:
    """Empty a clock's other ways when one way is given alone."""
    given = dict(figures)
    for clock in CLOCKS:
        named = [way for way in WAYS if figures.get(f"{clock}_{way}") is not None]
        if len(named) == 1:
            given |= {f"{clock}_{way}": None for way in WAYS if way != named[0]}
    return given


def _check(row: ServiceLevel) -> None:
    """Refuse a clock given in no way or two, and what a hazard class may not have. Raises LevelRefused."""
    errors: list[FieldError] = []
    for clock in CLOCKS:
        ways = [f"{clock}_{way}" for way in WAYS if getattr(row, f"{clock}_{way}") is not None]
        if len(ways) != 1:
            where = ways[0] if ways else f"{clock}_hours"
            text = "Give this time in one way: in hours, in working hours or in days."
            errors.append(FieldError(f"/{where}", "refused", text))
    if not errors:
        for clock, text in faults_of(PriorityClass(row.priority), times_of(row)):
            where = next(f"{clock}_{way}" for way in WAYS if getattr(row, f"{clock}_{way}") is not None)
            errors.append(FieldError(f"/{where}", "refused", text))
    if errors:
        raise LevelRefused(errors[0].detail, errors=errors)


def _shown(row: ServiceLevel) -> dict[str, Any]:
    return {**{name: getattr(row, name) for name in FIGURES}, "source": row.source}
