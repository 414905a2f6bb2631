"""Let an inspector judge anew what was judged of a panel; both judgements are kept."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db import transaction

from findings.conditions.actions import OverruledAlready, keep
from findings.conditions.models import Condition
from findings.kinds.discharge_condition import condition_overruled
from findings.logbook import actions as logbook
from findings.panels import queries
from findings.panels.actions.refusals import somebody, written
from findings.plant.actions import refuse
from findings.register.actions.conditions import consider
from findings.sound.discharge import Sound
from plantcare.api.actor import Actor
from plantcare.api.problems import NotFound


def overrule(*, actor: Actor, at: datetime, condition_id: uuid.UUID, sound: str, reason: str) -> Condition:
    """Put another class in the place of the one judged, with the reason for it.

    An enclosure that is kept shut stays so: only a release opens it. Raises NotFound, PersonRequired,
    OverruledAlready, and Invalid for an unknown class or a reason under ten characters.
    """
    by = somebody(actor)
    if sound not in set(Sound):
        refuse("/sound", "invalid_choice", f"One of {', '.join(Sound)}.")
    why = written("/reason", reason)
    with transaction.atomic():
        before = queries.discharges().filter(pk=condition_id).first()
        if before is None:
            raise NotFound
        if Condition.objects.filter(overrules=before).exists():
            raise OverruledAlready
        found = condition_overruled(
            Sound(sound),
            why,
            queries.surroundings(before.reading),
            is_shut=before.point_id in queries.kept_shut([before.point_id], at),
            before=before.state,
        )
        condition = keep(
            found, reading=before.reading, at=before.at, recorded_at=at, judged_by_id=by, overrules=before
        )
        logbook.write(
            site_id=before.site_id,
            actor=actor,
            at=at,
            act="condition.overruled",
            subject_kind="condition",
            subject_id=before.pk,
            reason=why,
            detail={"by_condition_id": condition.pk, "before": before.state, "now": condition.state},
        )
        consider(actor=actor, at=at, condition=condition)
    return queries.discharges().get(pk=condition.pk)
