"""Put two readings side by side for the rule that judges their kind."""

from __future__ import annotations

from datetime import datetime

from findings.conditions.queries import found_of
from findings.kinds.base import Kind
from findings.physics.wear_ladder import WearState
from findings.readings.models import Reading
from findings.readings.rules import DirectMethod
from findings.register.models import Finding
from workorders.orders.rules import Reason
from workorders.verification import queries
from workorders.verification.rules import (
    Heard,
    Judgement,
    Verdict,
    WearSaid,
    judge_discharge,
    judge_leak,
    judge_seal,
    judge_wear,
)

_NOTHING_BEFORE = Reason("before_missing", "No reading before the repair is left to compare with.")


def judgement_on(
    finding: Finding, reading: Reading, repaired_at: datetime, *, energised: bool | None, qualified: bool
) -> Judgement:
    """Return the verdict of a reading after a repair; without a reading before, nothing can be told.

    `energised` and `qualified` are the statement that electrical gear takes.
    """
    kind = Kind(finding.kind)
    after = _heard(finding, reading)
    if kind is Kind.ELECTRICAL_DISCHARGE:
        return judge_discharge(after, repaired_at=repaired_at, energised=energised, qualified=qualified)
    earlier = queries.reading_before(finding)
    if kind is Kind.ENCLOSURE_LEAK:
        walks = queries.walks_behind(reading, earlier)
        if reading.pk in walks:
            before_walk = walks.get(earlier.pk) if earlier is not None else None
            return judge_seal(before_walk, walks[reading.pk], repaired_at=repaired_at)
    before = None if earlier is None else _heard(finding, earlier)
    if kind is Kind.MECHANICAL_WEAR:
        said = _wear_said(reading, repaired_at)
        return judge_wear(before, after, repaired_at=repaired_at, said=said)
    if before is None:
        return Judgement(Verdict.CANNOT_TELL, (_NOTHING_BEFORE,))
    return judge_leak(before, after, repaired_at=repaired_at, pressurised=kind is not Kind.ENCLOSURE_LEAK)


def _wear_said(reading: Reading, repaired_at: datetime) -> WearSaid | None:
    """Return what a reading says against the baseline as it is known now; None where no level was read."""
    found = found_of(reading, repaired_at)
    if found is None:
        return None
    reasons = tuple(Reason(reason.code, reason.text) for reason in found.reasons)
    back = found.state == WearState.NO_STEP
    return WearSaid(found.figures["alarm"], at_baseline=back, named=bool(reading.kind), reasons=reasons)


def _heard(finding: Finding, reading: Reading) -> Heard:
    """Return what a reading gives a verdict; a reading without a kind found nothing."""
    instrument = reading.instrument or reading.survey.instrument
    measured = reading.flow_m3_per_s is not None and reading.flow_method != DirectMethod.STATED
    flow = reading.flow_m3_per_s
    header_pa = None if finding.system is None else finding.system.pressure_gauge_pa
    not_read = reading.pressure_gauge_pa is None
    return Heard(
        observed_at=reading.taken_at,
        instrument_family=None if instrument is None else f"{instrument.name} {instrument.scale}",
        level_db=reading.level_db,
        heard=_was_heard(finding, reading),
        background_db=reading.background_db,
        distance_m=reading.distance_m,
        pressure_gauge_pa=header_pa if not_read else reading.pressure_gauge_pa,
        pressure_from_header=not_read and header_pa is not None,
        flow_m3_per_s=flow if flow is not None else queries.assessed_flow(finding.pk, reading.pk),
        flow_measured=measured,
    )


def _was_heard(finding: Finding, reading: Reading) -> bool | None:
    """Take a statement where there is one; of a leak's level the rule decides itself."""
    if not reading.kind:
        return False
    return True if finding.kind == Kind.ELECTRICAL_DISCHARGE else None
