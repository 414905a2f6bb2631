"""Judge what was read and recorded at electrical equipment: each once, each in its own transaction."""

from __future__ import annotations

import logging
import uuid
from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Final

from django.db import transaction

from findings.kinds.condition import ConditionFound
from findings.kinds.discharge_condition import condition_by_words, condition_of_quiet
from findings.panels import queries
from findings.panels.actions.keeping import keep_judged
from findings.panels.actions.listening import judge_recording
from findings.readings.models import Reading
from plantcare.api.actor import Actor

logger = logging.getLogger(__name__)

CHUNK: Final = 500

Step = Callable[[Actor, datetime, uuid.UUID], bool]


def judge_discharge(
    *, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None = None
) -> dict[str, int]:
    """Judge the analyses and readings of electrical equipment that have no judgement; return counts.

    Nothing is remembered but the judgements themselves: whatever has none is found again, so that a lost
    message, a killed worker or a failed step is made good by the next run. One that fails doesn't keep the
    others waiting.
    """
    heard = queries.unjudged_analyses(site_ids).values_list("pk", flat=True)
    recordings, deaf = each(list(heard[:CHUNK]), judge_recording, actor=actor, at=at)
    read = queries.unjudged_readings(site_ids).values_list("pk", flat=True)
    readings, blind = each(list(read[:CHUNK]), judge_reading, actor=actor, at=at)
    return {"recordings": recordings, "readings": readings, "failed": deaf + blind}


def each(ids: Sequence[uuid.UUID], step: Step, *, actor: Actor, at: datetime) -> tuple[int, int]:
    """Take the step for each id; return how many were judged and how many failed."""
    judged = failed = 0
    for pk in ids:
        try:
            judged += step(actor, at, pk)
        except Exception:
            logger.exception("%s of %s failed", step.__name__, pk)
            failed += 1
    return judged, failed


def judge_reading(actor: Actor, at: datetime, reading_id: uuid.UUID) -> bool:
    """Judge one reading by words and level; False where it is judged already or somebody is about it."""
    with transaction.atomic():
        rows = queries.unjudged_readings().filter(pk=reading_id).select_related("point", "site")
        reading = rows.select_for_update(skip_locked=True, of=("self",)).first()
        # Asked once more under the lock: another run may have judged it and ended meanwhile.
        if reading is None or not rows.exists():
            return False
        keep_judged(_found(reading), reading, actor=actor, at=at)
    return True


def _found(reading: Reading) -> ConditionFound:
    around = queries.surroundings(reading)
    if not reading.kind:
        return condition_of_quiet(around)
    return condition_by_words(reading.pattern, reading.severity, around)
