"""Judge a reading after a repair, once, and do what the verdict asks."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from dataclasses import asdict
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal

from django.db import transaction

from findings.logbook import actions as logbook
from findings.plant.rules import Right
from findings.readings.models import Reading
from findings.register.models import Finding
from findings.register.queries import findings
from findings.register.rules import FindingStatus
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Forbidden, Invalid, NotFound, Unprocessable
from workorders.orders.models import WorkOrder
from workorders.verification import queries
from workorders.verification.actions.comparing import judgement_on
from workorders.verification.actions.concluding import conclude
from workorders.verification.models import Verification
from workorders.verification.rules import Judgement, may_judge

_TWELVE_PLACES = Decimal("1e-12")


class FindingUnknown(NotFound):
    """No such finding."""


class FindingNotRepaired(Conflict):
    """Only a repair can be judged."""

    code = "finding_not_repaired"
    title = "The finding is not waiting for its repair to be checked."


class ReadingElsewhere(Invalid):
    """The reading says nothing about this finding."""

    code = "unknown_reference"
    title = "The reading is none of this finding's measuring point and kind."


class ReadingBeforeRepair(Unprocessable):
    """A reading proves a repair only after it."""

    code = "reading_before_repair"
    title = "The reading was taken before the repair."


class VerifierIsRepairer(Forbidden):
    """Nobody judges the own repair of a hazard."""

    code = "verifier_is_repairer"
    title = "The repair of a safety finding is judged by somebody else, on somebody else's reading."


def verify(
    *,
    actor: Actor,
    at: datetime,
    finding_id: uuid.UUID,
    reading_id: uuid.UUID,
    rights: Collection[Right],
    energised: bool | None = None,
    qualified: bool = False,
) -> Verification:
    """Judge whether a repair held, and let the finding, its order and the next visit follow.

    A reading is judged once: judging it again returns the first verdict. `energised` and `qualified`
    are stated for electrical gear. Raises Forbidden, FindingUnknown, FindingNotRepaired,
    ReadingElsewhere, ReadingBeforeRepair, VerifierIsRepairer.
    """
    if Right.VERIFY not in rights:
        raise Forbidden
    with transaction.atomic():
        order = _locked_order(finding_id)
        finding = findings().select_for_update(of=("self",), no_key=True).filter(pk=finding_id).first()
        if finding is None:
            raise FindingUnknown
        known = queries.verification_of(finding_id, reading_id)
        if known is not None:
            return known
        reading = _fitting_reading(finding, reading_id)
        repaired_at = _repair_of(finding, reading)
        _separate(finding, reading, actor)
        judgement = judgement_on(finding, reading, repaired_at, energised=energised, qualified=qualified)
        verification = _record(finding, order, reading, judgement, repaired_at, actor, at)
        conclude(verification, finding, order, actor=actor, at=at)
    return queries.verifications().get(pk=verification.pk)


def _locked_order(finding_id: uuid.UUID) -> WorkOrder | None:
    """Lock the order before the finding, as every move does, so that the two never wait crosswise."""
    order = queries.order_under_repair(finding_id)
    if order is None:
        return None
    return WorkOrder.objects.select_for_update(no_key=True).get(pk=order.pk)


def _fitting_reading(finding: Finding, reading_id: uuid.UUID) -> Reading:
    reading = queries.reading_after(reading_id)
    if reading is None or reading.point_id != finding.point_id or reading.kind not in ("", finding.kind):
        raise ReadingElsewhere(
            errors=[FieldError("/reading_id", "unknown_reference", ReadingElsewhere.title)]
        )
    return reading


def _repair_of(finding: Finding, reading: Reading) -> datetime:
    repaired_at = finding.repaired_at
    if finding.status != FindingStatus.REPAIRED or repaired_at is None:
        text = f"{finding} is {finding.status}."
        raise FindingNotRepaired(text, finding_status=finding.status)
    if reading.taken_at < repaired_at:
        text = f"{finding} was repaired at {repaired_at.isoformat()}, after this reading."
        raise ReadingBeforeRepair(text, errors=[FieldError("/reading_id", "reading_before_repair", text)])
    return repaired_at


def _separate(finding: Finding, reading: Reading, actor: Actor) -> None:
    """Keep judge and repairer apart; neither the verdict nor the reading is the repairer's own."""
    repairer = queries.repairer_of(finding.pk)
    judges = queries.takers_of(reading) | ({actor.user_id} if actor.user_id is not None else set())
    for judge in judges:
        fits = may_judge(
            repairer=str(repairer), judge=str(judge), hazard=finding.is_safety, above_money_limit=False
        )
        if not fits:
            raise VerifierIsRepairer


def _record(
    finding: Finding,
    order: WorkOrder | None,
    reading: Reading,
    judgement: Judgement,
    repaired_at: datetime,
    actor: Actor,
    at: datetime,
) -> Verification:
    left = judgement.residual_flow_m3_per_s
    residual = None if left is None else Decimal(repr(left)).quantize(_TWELVE_PLACES, ROUND_HALF_UP)
    verification = Verification.objects.create(
        site_id=finding.site_id,
        finding=finding,
        order=order,
        reading=reading,
        verdict=judgement.verdict,
        reasons=[asdict(reason) for reason in judgement.reasons],
        residual_m3_per_s=residual,
        repaired_at=repaired_at,
        at=reading.taken_at,
        recorded_at=at,
        user_id=actor.user_id,
        actor_name=actor.name[:200],
    )
    logbook.write(
        site_id=finding.site_id,
        actor=actor,
        at=at,
        act=f"verification.{judgement.verdict}",
        subject_kind="verification",
        subject_id=verification.pk,
        detail={
            "finding_id": finding.pk,
            "finding_number": finding.number,
            "reading_id": reading.pk,
            "reasons": [reason.code for reason in judgement.reasons],
        },
    )
    return verification
