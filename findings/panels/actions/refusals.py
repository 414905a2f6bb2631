"""What the acts at panels have in common: a person at a log-in, written grounds, rows voided once."""

from __future__ import annotations

from typing import TypeVar

from findings.panels.models import ElectricalQualification, OpeningRelease, PanelParticulars
from findings.panels.rules import SHORTEST_REASON
from findings.plant.actions import refuse
from findings.register.rules import reason_is_written
from plantcare.api.actor import Actor
from plantcare.api.problems import (
    PersonRequired,
)

Row = TypeVar("Row", PanelParticulars, ElectricalQualification, OpeningRelease)


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
