"""Say when a site works; a wrong row is voided, never rewritten."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any, TypeVar

from django.db import transaction

from findings.logbook import actions as logbook
from findings.plant import actions as plant
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, constraint_refusals
from workorders.calendars.models import SiteDay, WorkingWeek
from workorders.calendars.rules import (
    LONGEST_SPAN_DAYS,
    DayKind,
    HolidaysUnknown,
    ShiftWrong,
    check_country,
    plain_shift,
    shifts_of,
)

Row = TypeVar("Row", WorkingWeek, SiteDay)


class WeekDated(Conflict):
    """Two weeks cannot begin to hold on one day."""

    code = "working_week_dated"
    title = "A working week holds from this very day already; void it first."


class DayNamed(Conflict):
    """The same is said of the day already."""

    code = "site_day_named"
    title = "A row of this kind begins on this very day already; void it first."


class RowAlreadyVoid(Conflict):
    """A row is voided once."""

    code = "calendar_row_void"
    title = "The row is void already."


constraint_refusals["working_week_once_per_day"] = WeekDated
constraint_refusals["site_day_once_per_kind"] = DayNamed


def set_working_week(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    from_on: date,
    shifts: Sequence[Mapping[str, Any]],
    known_until_on: date,
    source: str,
    country: str = "",
    subdivision: str = "",
) -> WorkingWeek:
    """Add the week in force from a local day until the next one; due times promised before stay.

    Raises Invalid with the place of what cannot be: no shift, an unknown country, no source; WeekDated.
    """
    plain = _shifts(shifts, needed=True)
    try:
        check_country(country, subdivision)
    except HolidaysUnknown as unknown:
        plant.refuse(f"/{unknown.pointer}", "holidays_unknown", str(unknown))
    if known_until_on < from_on:
        plant.refuse("/known_until_on", "out_of_order", "It lies before the day from which the week holds.")
    with transaction.atomic():
        row = WorkingWeek.objects.create(
            site=plant.site_of(site_id),
            from_on=from_on,
            shifts=plain,
            country=country,
            subdivision=subdivision,
            known_until_on=known_until_on,
            recorded_at=at,
            source=_said("source", source),
        )
        _log(row, actor, at, "set", {"from_on": from_on, "shifts": plain, "country": country})
    return row


def say_of_days(
    *,
    actor: Actor,
    at: datetime,
    site_id: uuid.UUID,
    kind: DayKind,
    first_on: date,
    name: str,
    source: str,
    last_on: date | None = None,
    shifts: Sequence[Mapping[str, Any]] = (),
) -> SiteDay:
    """Say that days are closed, worked though they would not be, or a shutdown with its name.

    Raises Invalid with the place of what cannot be; DayNamed.
    """
    last_on = first_on if last_on is None else last_on
    if not 0 <= (last_on - first_on).days < LONGEST_SPAN_DAYS:
        plant.refuse("/last_on", "out_of_order", "The last day is the first one or up to a year later.")
    if shifts and kind is not DayKind.WORKED:
        plant.refuse("/shifts", "out_of_place", "Only days that are worked have hours.")
    plain = _shifts(shifts, needed=False)
    with transaction.atomic():
        row = SiteDay.objects.create(
            site=plant.site_of(site_id),
            kind=kind,
            first_on=first_on,
            last_on=last_on,
            name=_said("name", name),
            shifts=plain,
            recorded_at=at,
            source=_said("source", source),
        )
        _log(
            row, actor, at, "set", {"kind": kind, "first_on": first_on, "last_on": last_on, "name": row.name}
        )
    return row


def void_working_week(*, actor: Actor, at: datetime, week_id: uuid.UUID, reason: str) -> WorkingWeek:
    """Void a week: from now on it never held. Raises NotFound, Invalid, RowAlreadyVoid."""
    return _void(WorkingWeek, week_id, actor, at, reason)


def void_site_day(*, actor: Actor, at: datetime, day_id: uuid.UUID, reason: str) -> SiteDay:
    """Void what was said of days. Raises NotFound, Invalid, RowAlreadyVoid."""
    return _void(SiteDay, day_id, actor, at, reason)


def _void(model: type[Row], row_id: uuid.UUID, actor: Actor, at: datetime, reason: str) -> Row:
    told = plant.check_reason(reason)
    with transaction.atomic():
        row = plant.void_row(model, row_id, at=at, reason=told, already=RowAlreadyVoid)
        _log(row, actor, at, "voided", {"row": str(row)}, told)
    return row


def _said(member: str, text: str) -> str:
    if not text.strip():
        plant.refuse(f"/{member}", "blank", "Something has to be said here.")
    return text.strip()


def _shifts(given: Sequence[Mapping[str, Any]], *, needed: bool) -> list[dict[str, Any]]:
    if needed and not given:
        plant.refuse("/shifts", "min_length", "A week has one shift at least.")
    try:
        return [plain_shift(shift) for shift in shifts_of(given)]
    except ShiftWrong as wrong:
        where = f"/shifts/{wrong.pointer}" if wrong.pointer else "/shifts"
        plant.refuse(where, "shift_refused", str(wrong))


def _log(
    row: WorkingWeek | SiteDay, actor: Actor, at: datetime, act: str, detail: dict[str, Any], reason: str = ""
) -> None:
    kind = "working_week" if isinstance(row, WorkingWeek) else "site_day"
    logbook.write(
        site_id=row.site_id,
        actor=actor,
        at=at,
        act=f"{kind}.{act}",
        subject_kind=kind,
        subject_id=row.pk,
        reason=reason,
        detail=detail,
    )
