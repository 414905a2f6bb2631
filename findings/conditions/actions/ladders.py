"""Set a site's own wear ladder from a moment on; a wrong one is voided, never rewritten."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from findings.conditions.actions.points import refuse_problems, tell
from findings.conditions.models import WearLadder
from findings.conditions.rules.ladders import steps_problems, steps_to_json
from findings.physics.wear_ladder import Step
from findings.plant import actions as plant
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, constraint_refusals


class LadderDated(Conflict):
    """Two ladders can't begin to hold at once."""

    code = "wear_ladder_dated"
    title = "A ladder holds from this very moment already; void it first."


class LadderVoid(Conflict):
    """A row is voided once."""

    code = "wear_ladder_void"
    title = "The ladder is void already."


constraint_refusals["wear_ladder_once_per_moment"] = LadderDated


def set_ladder(
    *, actor: Actor, at: datetime, site_id: uuid.UUID, steps: Sequence[Step], from_at: datetime, source: str
) -> WearLadder:
    """Let a site's own ladder hold from a moment on; its top step acts on a single reading.

    Readings taken from then on are judged by it. Raises SiteUnknown, Invalid with a pointer per problem,
    LadderDated.
    """
    with transaction.atomic():
        site = plant.site_of(site_id)
        refuse_problems(steps_problems(steps))
        if not source.strip():
            plant.refuse("/source", "blank", "Say who set it, or where it comes from.")
        if WearLadder.objects.filter(site=site, from_at=from_at, void_at__isnull=True).exists():
            raise LadderDated(errors=[FieldError("/from_at", LadderDated.code, LadderDated.title)])
        row = WearLadder.objects.create(
            site=site, steps=steps_to_json(steps), from_at=from_at, recorded_at=at, source=source.strip()
        )
        detail = {"from_at": from_at, "source": row.source, "steps": row.steps}
        tell(row, "wear_ladder", "wear_ladder.set", actor, at, detail)
    return row


def void_ladder(*, actor: Actor, at: datetime, ladder_id: uuid.UUID, reason: str) -> WearLadder:
    """Void a ladder: it never held. Raises NotFound, Invalid without a reason, LadderVoid."""
    told = plant.check_reason(reason)
    with transaction.atomic():
        row = plant.void_row(WearLadder, ladder_id, at=at, reason=told, already=LadderVoid)
        tell(row, "wear_ladder", "wear_ladder.voided", actor, at, {"from_at": row.from_at}, told)
    return row
