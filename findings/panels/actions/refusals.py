"""What the acts at panels have in common: a person at a log-in, written grounds, rows voided once."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import TypeVar

from findings.panels.models import ElectricalQualification, OpeningRelease, PanelParticulars
from findings.panels.rules import SHORTEST_REASON
from findings.plant.actions import refuse
from findings.register.rules import reason_is_written
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, Forbidden, NotFound

Row = TypeVar("Row", PanelParticulars, ElectricalQualification, OpeningRelease)


class PersonRequired(Forbidden):
    """A key can't answer for an enclosure."""

    code = "person_required"
    title = "This takes a person at a log-in; a key can't decide it."


def person(actor: Actor) -> int:
    """Return the id of the person at a log-in. Raises PersonRequired."""
    if actor.user_id is None or actor.key_id is not None:
        raise PersonRequired
    return actor.user_id


def somebody(actor: Actor) -> int:
    """Return the id of whoever acts, at a log-in or by a key. Raises PersonRequired for a job."""
    if actor.user_id is None:
        raise PersonRequired
    return actor.user_id


def written(pointer: str, text: str) -> str:
    """Return a ground without blanks around it; raises Invalid where it explains nothing."""
    if not reason_is_written(text):
        refuse(pointer, "too_short", f"At least {SHORTEST_REASON} characters that say something.")
    return text.strip()


def void(
    model: type[Row], row_id: uuid.UUID, *, actor: Actor, at: datetime, reason: str, already: type[Conflict]
) -> Row:
    """Void a row by one guarded write, inside the caller's transaction.

    Raises NotFound, Invalid without a reason, ``already``.
    """
    if not reason.strip():
        refuse("/reason", "blank", "A reason is needed.")
    rows = model._default_manager.filter(pk=row_id)  # noqa: SLF001 - the manager of a model that is given
    if not rows.exists():
        raise NotFound
    if not rows.filter(void_at__isnull=True).update(
        void_at=at, void_reason=reason.strip(), void_by_id=actor.user_id
    ):
        raise already
    return rows.get()
