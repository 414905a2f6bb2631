"""Keep the times that a site promises, and turn them into due times."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import F

from findings.logbook import actions as logbook
from findings.plant.models import Site
from plantcare.api.actor import Actor
from plantcare.api.etags import stale
from plantcare.api.problems import FieldError, NotFound, Unprocessable
from workorders.orders.models import ServiceLevel
from workorders.orders.rules import (
    DEFAULT_TIMES,
    Clock,
    Level,
    PriorityClass,
    Times,
    due_at,
    faults_of,
    level_of,
)

DEFAULT_SOURCE: Final = "Starting values of the program; for P2 the repair time of 40 CFR 61.242-7."


class LevelUnknown(NotFound):
    """No such service level."""


class LevelRefused(Unprocessable):
    """The times are contradictory, or longer than a hazard allows."""

    code = "service_level_refused"
    title = "These times can't be promised."


def levels_of(*, site_id: uuid.UUID, at: datetime) -> list[ServiceLevel]:
    """Return a site's levels by class; the first use writes the defaults down."""
    seed_levels(site_ids=[site_id], at=at)
    return list(ServiceLevel.objects.filter(site_id=site_id).order_by("priority"))


def seed_levels(*, site_ids: Sequence[uuid.UUID] | None, at: datetime) -> None:
    """Write the default levels of sites that have none yet; None means all sites."""
    sites = Site.objects.all() if site_ids is None else Site.objects.filter(pk__in=list(site_ids))
    bare = sites.exclude(pk__in=ServiceLevel.objects.filter(priority=PriorityClass.P1).values("site_id"))
    rows = [_default(pk, one, at) for pk in bare.values_list("pk", flat=True) for one in PriorityClass]
    if rows:
        ServiceLevel.objects.bulk_create(rows, ignore_conflicts=True)


def _default(site_id: uuid.UUID, priority: PriorityClass, at: datetime) -> ServiceLevel:
    times = DEFAULT_TIMES[priority]
    return ServiceLevel(
        site_id=site_id,
        priority=priority,
        respond_hours=times.respond_hours,
        repair_hours=times.repair_hours,
        repair_days=times.repair_days,
        verify_days=times.verify_days,
        source=DEFAULT_SOURCE,
        created_at=at,
    )


def level_at(site_id: uuid.UUID, priority: PriorityClass, at: datetime) -> Level:
    """Return the clocks of a class at a site."""
    row = next(row for row in levels_of(site_id=site_id, at=at) if row.priority == priority)
    return level_of(priority, _times(row))


def promise(
    site: Site, level: Level, clock_from_at: datetime, repaired_at: datetime | None = None
) -> dict[str, Any]:
    """Return the due times of an order as its fields, by the site's own clock."""
    zone = ZoneInfo(site.time_zone)
    repair = due_at(level, Clock.REPAIR, clock_from_at, zone)
    verify = None if repaired_at is None else due_at(level, Clock.VERIFY, repaired_at, zone)
    return {
        "clock_from_at": clock_from_at,
        "respond_by_at": due_at(level, Clock.ACKNOWLEDGE, clock_from_at, zone) or repair,
        "due_at": repair,
        "verify_by_at": verify,
    }


def change_level(
    *, actor: Actor, at: datetime, level_id: uuid.UUID, version: int | None = None, **figures: Any
) -> ServiceLevel:
    """Change a site's times for a class; orders opened before keep what they were promised.

    ``figures`` are respond_hours, verify_days, source, and one of repair_hours and repair_days (the
    other is emptied). Raises LevelUnknown, LevelRefused, or 412 for an older version.
    """
    with transaction.atomic():
        row = ServiceLevel.objects.filter(pk=level_id).first()
        if row is None:
            raise LevelUnknown
        if version is not None and version != row.version:
            raise stale(row.version)
        given = _with_one_repair_time(figures)
        was = _shown(row)
        for name, value in given.items():
            setattr(row, name, value)
        _check(row)
        same = ServiceLevel.objects.filter(pk=row.pk, version=row.version)
        if not same.update(version=F("version") + 1, **given):
            raise stale(ServiceLevel.objects.values_list("version", flat=True).get(pk=row.pk))
        row.refresh_from_db()
        logbook.write(
            site_id=row.site_id,
            actor=actor,
            at=at,
            act="service_level.changed",
            subject_kind="service_level",
            subject_id=row.pk,
            subject_version=row.version,
            detail={"priority": row.priority, "from": was, "to": _shown(row)},
        )
    return row


def _with_one_repair_time(figures: dict[str, Any]) -> dict[str, Any]:
    """Empty the other way of giving the repair time when one way is given alone."""
    hours, days = figures.get("repair_hours"), figures.get("repair_days")
    if hours is not None and days is None:
        return {**figures, "repair_days": None}
    if days is not None and hours is None:
        return {**figures, "repair_hours": None}
    return figures


def _check(row: ServiceLevel) -> None:
    faults = faults_of(PriorityClass(row.priority), _times(row))
    if faults:
        errors: Sequence[FieldError] = [FieldError(f"/{name}", "refused", text) for name, text in faults]
        raise LevelRefused(faults[0][1], errors=errors)


def _times(row: ServiceLevel) -> Times:
    return Times(
        respond_hours=row.respond_hours,
        verify_days=row.verify_days,
        repair_hours=row.repair_hours,
        repair_days=row.repair_days,
    )


def _shown(row: ServiceLevel) -> dict[str, Any]:
    return {
        "respond_hours": row.respond_hours,
        "repair_hours": row.repair_hours,
        "repair_days": row.repair_days,
        "verify_days": row.verify_days,
        "source": row.source,
    }
