"""State what holds of a panel from a moment on, and void what never did."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from findings.logbook import actions as logbook
from findings.panels.models import PanelParticulars
from findings.panels.rules import HIGHEST_V, MAINS_HZ, Enclosure
from findings.plant.actions import check_reason, refuse, void_row
from findings.plant.models import MeasuringPoint
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, NotFound, constraint_refusals


class ParticularsStated(Conflict):
    """Two particulars of one panel can't begin to hold at one moment."""

    code = "panel_particulars_stated"
    title = (
        "Particulars of this panel from this moment are stated already; void them first if they are wrong."
    )


class ParticularsVoid(Conflict):
    """Particulars are voided once."""

    code = "panel_particulars_void"
    title = "These particulars are void already."


constraint_refusals["panel_particulars_once_per_moment"] = ParticularsStated


def add_particulars(
    *,
    actor: Actor,
    at: datetime,
    point_id: uuid.UUID,
    from_at: datetime,
    enclosure: str,
    nominal_v: float | None = None,
    mains_hz: int | None = None,
    openings_to_scan: str = "",
    approach_note: str = "",
) -> PanelParticulars:
    """State the particulars of the enclosure at a point. Raises NotFound, Invalid, ParticularsStated."""
    if nominal_v is not None and not 0.0 < nominal_v <= HIGHEST_V:
        refuse("/nominal_v", "out_of_range", f"Above 0 V and at most {HIGHEST_V:g} V.")
    if mains_hz is not None and mains_hz not in MAINS_HZ:
        refuse("/mains_hz", "invalid_choice", "50 or 60 Hz.")
    if enclosure not in set(Enclosure):
        refuse("/enclosure", "invalid_choice", f"One of {', '.join(Enclosure)}.")
    with transaction.atomic():
        point = MeasuringPoint.objects.filter(pk=point_id).first()
        if point is None:
            raise NotFound
        row = PanelParticulars.objects.create(
            site_id=point.site_id,
            point=point,
            from_at=from_at,
            nominal_v=nominal_v,
            mains_hz=mains_hz,
            enclosure=Enclosure(enclosure),
            openings_to_scan=openings_to_scan.strip(),
            approach_note=approach_note.strip(),
            recorded_at=at,
            recorded_by=actor.name[:200],
        )
        _log(row, actor, at, "panel_particulars.added")
    return row


def void_particulars(
    *, actor: Actor, at: datetime, particulars_id: uuid.UUID, reason: str
) -> PanelParticulars:
    """Void particulars that never held. Raises NotFound, Invalid, ParticularsVoid."""
    with transaction.atomic():
        row = void_row(
            PanelParticulars,
            particulars_id,
            at=at,
            reason=check_reason(reason),
            already=ParticularsVoid,
            void_by_id=actor.user_id,
        )
        _log(row, actor, at, "panel_particulars.voided", row.void_reason)
    return row


def _log(row: PanelParticulars, actor: Actor, at: datetime, act: str, reason: str = "") -> None:
    told = ("point_id", "from_at", "nominal_v", "mains_hz", "enclosure")
    logbook.write(
        site_id=row.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="panel_particulars",
        subject_id=row.pk,
        reason=reason,
        detail={name: getattr(row, name) for name in told},
    )
