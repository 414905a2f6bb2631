"""Judge what a contact probe said in the pass that takes the reading, and let it count for the finding."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from django.db import transaction

from findings.conditions import actions as conditions
from findings.conditions import queries
from findings.conditions.models import Condition
from findings.conditions.rules.probing import is_judged
from findings.kinds.base import Kind
from findings.kinds.wear_condition import METHOD, wear_condition
from findings.logbook import actions as logbook
from findings.readings.models import Reading
from findings.register.actions import hearing
from findings.register.actions.casefile import Casefile, Draft
from findings.register.actions.conditions import consider, counted, open_one
from findings.register.models import Finding
from plantcare.api.actor import Actor
from plantcare.api.problems import Unprocessable


class NothingToJudge(Unprocessable):
    """A judgement of wear takes a reading by contact probe."""

    code = "no_probe_reading"
    title = "No reading by contact probe that can be judged was taken at this point."


def judged(casefile: Casefile, reading: Reading) -> Condition | None:
    """Judge a reading that was just kept, and keep the condition; None where its level isn't judged.

    What it corrects no longer counts, neither as a reading nor as a part of the baseline.
    """
    if reading.corrects_id is not None:
        casefile.wear.forget(casefile.book.corrected[reading.corrects_id])
    return _judge(casefile, reading) if is_judged(reading) else None


def known_word(reading: Reading) -> Condition | None:
    """Return the newest word on a reading that was judged before; None where its level isn't judged."""
    return queries.judged_of(reading.pk, METHOD) if is_judged(reading) else None


def contradicted(reading: Reading, condition: Condition | None) -> str:
    """Return the kind of finding that a quiet reading shows by its level, or an empty text."""
    return condition.kind if condition is not None and condition.opens_finding and not reading.kind else ""


def said(reading: Reading, condition: Condition | None) -> dict[str, Any]:
    """Return what the reading's entry in the logbook says of its judgement."""
    if condition is None:
        return {}
    told = {"condition_id": condition.pk, "state": condition.state, "order_due": condition.order_due}
    return {**told, "contradicts_quiet": bool(contradicted(reading, condition))}


def follow(
    casefile: Casefile,
    reading: Reading,
    condition: Condition,
    finding: Finding | None,
    draft: Draft,
) -> Finding | None:
    """Let a judged reading count, and return the finding that it concerns.

    A correction also has the point's newest reading judged again, for the baseline may be another now.
    """
    casefile.wear.add(reading)
    if reading.corrects_id is None:
        return _count(casefile, reading, condition, draft, opens=False) or finding
    newest_id = casefile.wear.newest_id(reading.point_id)
    concerned = _count(casefile, reading, condition, draft, opens=True)
    if newest_id is not None and newest_id != str(reading.pk):
        newest = Reading.objects.get(pk=newest_id)
        concerned = _count(casefile, newest, _judge(casefile, newest), draft, opens=True) or concerned
    return concerned or finding


def judge_again(*, actor: Actor, at: datetime, point_id: uuid.UUID) -> Condition:
    """Judge a point's newest probe reading by the baseline and the ladder as they are known now.

    For a good state that was confirmed, or a ladder that was set, after the reading. Raises NothingToJudge.
    """
    with transaction.atomic():
        reading = queries.probe_readings().filter(point_id=point_id).order_by("-taken_at", "-id").first()
        if reading is None:
            raise NothingToJudge
        repairs = Finding.objects.filter(
            point_id=point_id, kind=Kind.MECHANICAL_WEAR, repaired_at__lte=reading.taken_at
        )
        repaired_at = repairs.order_by("-repaired_at").values_list("repaired_at", flat=True).first()
        found = queries.found_of(reading, repaired_at)
        if found is None:
            raise NothingToJudge
        condition = conditions.keep(found, reading=reading, at=reading.taken_at, recorded_at=at)
        finding = consider(actor=actor, at=at, condition=condition)
        if finding is None:
            detail = {"point_id": point_id, "reading_id": reading.pk, "state": condition.state}
            logbook.write(
                site_id=reading.site_id,
                actor=actor,
                at=at,
                act="condition.judged_again",
                subject_kind="condition",
                subject_id=condition.pk,
                detail=detail,
            )
    return condition


def _judge(casefile: Casefile, reading: Reading) -> Condition:
    repairs = [
        found.repaired_at
        for found in casefile.by_point[reading.point_id].values()
        if found.kind == Kind.MECHANICAL_WEAR and found.repaired_at is not None
    ]
    repaired_at = max((moment for moment in repairs if moment <= reading.taken_at), default=None)
    found = wear_condition(casefile.wear.evidence(reading, repaired_at=repaired_at))
    return conditions.keep(found, reading=reading, at=reading.taken_at, recorded_at=casefile.at)


def _count(
    casefile: Casefile, reading: Reading, condition: Condition, draft: Draft, *, opens: bool
) -> Finding | None:
    """Let a condition count for the open finding; where none is open and it ``opens``, an alarm opens one."""
    finding = open_one(casefile, condition)
    if finding is None and opens and condition.opens_finding:
        finding, _ = hearing.conclude(casefile, reading, draft, kind=condition.kind)
    if finding is None:
        return None
    finding, act = counted(casefile, finding, reading, condition)
    draft.acts.append(act)
    return finding
