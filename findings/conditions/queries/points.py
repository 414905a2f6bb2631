"""Read what is known of bearings, good states, ladders and greasings."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db.models import QuerySet

from findings.conditions.models import BearingParticulars, GoodState, Greasing, WearLadder
from findings.conditions.rules.bearings import MEMBERS, Particulars


def bearing_particulars() -> QuerySet[BearingParticulars]:
    """Return all particulars, void ones too; a door narrows them to the caller's sites."""
    return BearingParticulars.objects.select_related("point")


def good_states() -> QuerySet[GoodState]:
    """Return every word that a machine was good, void ones too."""
    return GoodState.objects.select_related("point", "user")


def wear_ladders() -> QuerySet[WearLadder]:
    """Return all sites' own ladders, void ones too."""
    return WearLadder.objects.select_related("site")


def greasings() -> QuerySet[Greasing]:
    """Return all greasings, void ones too."""
    return Greasing.objects.select_related("point", "before", "during", "after", "user")


def particulars_at(point_id: uuid.UUID, at: datetime) -> Particulars | None:
    """Return what was known of a point's bearing for a moment, by what is known now; None if nothing."""
    rows = BearingParticulars.objects.filter(point_id=point_id, void_at__isnull=True, from_at__lte=at)
    row = rows.order_by("-from_at").first()
    return None if row is None else particulars_of(row)


def particulars_of(row: BearingParticulars) -> Particulars:
    """Return a row as the rules take it."""
    return Particulars(**{name: getattr(row, name) for name in MEMBERS})


def ladder_at(site_id: uuid.UUID, at: datetime) -> WearLadder | None:
    """Return the site's own ladder in force at a moment; None where the usual one holds."""
    rows = WearLadder.objects.filter(site_id=site_id, void_at__isnull=True, from_at__lte=at)
    return rows.order_by("-from_at").first()


def last_greased_at(point_id: uuid.UUID) -> datetime | None:
    """Return when a point was last greased; None if nobody recorded it."""
    rows = Greasing.objects.filter(point_id=point_id, void_at__isnull=True)
    return rows.order_by("-at").values_list("at", flat=True).first()
