"""The verdict on a repair: before and after compared, or an honest "cannot tell"."""

from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Final

from workorders.orders.rules import Reason


class Verdict(StrEnum):
    """What the reading after a repair says."""

    PASSED = "passed"
    PARTIAL = "partial"
    FAILED = "failed"
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True, slots=True)
class VerdictLimits:
    """A site's own limits; every default is our judgement and a starting point for its engineer.

    Pressure within 10 % and distance within a quarter are taken as like conditions. A drop below
    `drop_db` is no repair. A sound within `audible_db` of the background is not heard. A flow below
    `gone_share` of the one before counts as gone.
    """

    drop_db: float = 6.0
    audible_db: float = 3.0
    distance_ratio: float = 1.25
    pressure_share: float = 0.10
    gone_share: float = 0.02
    wear_margin_db: float = 3.0


DEFAULT_LIMITS: Final = VerdictLimits()
_HEADER_PRESSURE: Final = Reason(
    "pressure_not_read", "No pressure was read: taken as the usual pressure of the supply system."
)


@dataclass(frozen=True, slots=True)
class Heard:
    """What one reading gives a verdict: level in dB, pressures in Pa gauge, flows in m³/s.

    `level_db` None with `heard` False means that nothing was heard. A flow counts only when it was
    measured, or estimated by the same method as its partner. `pressure_from_header` says that nobody
    read a gauge and the system's usual pressure stands in. None means not recorded.
    """

    observed_at: datetime
    instrument_family: str | None = None
    level_db: float | None = None
    heard: bool | None = None
    background_db: float | None = None
    distance_m: float | None = None
    pressure_gauge_pa: float | None = None
    pressure_from_header: bool = False
    flow_m3_per_s: float | None = None
    flow_measured: bool = False


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict with its reasons, the drop in dB and the flow that is left, where they are known."""

    verdict: Verdict
    reasons: tuple[Reason, ...]
    drop_db: float | None = None
    residual_flow_m3_per_s: float | None = None


def may_judge(*, repairer: str, judge: str, hazard: bool, above_money_limit: bool) -> bool:
    """Say whether somebody may judge: not one's own repair of a hazard or above the money limit."""
    return judge != repairer or not (hazard or above_money_limit)


def judge_leak(
    before: Heard,
    after: Heard,
    *,
    repaired_at: datetime,
    limits: VerdictLimits = DEFAULT_LIMITS,
    pressurised: bool = True,
) -> Judgement:
    """Compare a leak, vacuum or gasket finding before and after its repair.

    `pressurised` False is for a gasket heard against a tone source, where no pressure is compared.
    A pair under unlike conditions cannot tell, whatever the levels say. Flows measured on both sides
    outweigh levels; a sound that is lower but still heard is partial, never passed.
    """
    doubts = _order_doubts(after, repaired_at) + _like_doubts(before, after, limits, distance=True)
    if pressurised:
        doubts += _pressure_doubts(before, after, limits)
    if doubts:
        return Judgement(Verdict.CANNOT_TELL, tuple(doubts))
    by_flow = before.flow_measured and after.flow_measured
    judgement = (_by_flow if by_flow else _by_level)(before, after, limits)
    if pressurised and (before.pressure_from_header or after.pressure_from_header):
        return replace(judgement, reasons=(*judgement.reasons, _HEADER_PRESSURE))
    return judgement


@dataclass(frozen=True, slots=True)
class WearSaid:
    """What a reading after work says against the machine's own baseline.

    `alarm` None means that it can't be told. `named` says that whoever took it still heard a fault.
    """

    alarm: bool | None
    at_baseline: bool
    named: bool
    reasons: tuple[Reason, ...]


def judge_wear(
    before: Heard | None,
    after: Heard,
    *,
    repaired_at: datetime,
    said: WearSaid | None,
    limits: VerdictLimits = DEFAULT_LIMITS,
) -> Judgement:
    """Judge work on a bearing or gear by the machine's own baseline, never by the drop alone.

    Passed where no step and no limit is passed any more, at a speed, load and probe that compare. Without
    a baseline, as after a new bearing, nothing is told and nothing closes. Above the baseline the drop
    tells partial from failed. This speaks of the level, never of remaining life.
    """
    doubts = _order_doubts(after, repaired_at)
    if said is None:
        doubts.append(_NOT_BY_PROBE)
    elif said.alarm is None:
        doubts += [_NO_BASELINE if _lacks_baseline(said) else _NOT_COMPARABLE, *said.reasons]
    elif said.named and not said.alarm:
        doubts.append(_STILL_NAMED)
    if doubts or said is None:
        return Judgement(Verdict.CANNOT_TELL, tuple(doubts))
    alike = before is not None and not _like_doubts(before, after, limits, distance=False)
    drop = _level_drop(before, after) if before is not None and alike else None
    if said.at_baseline:
        text = "Back at the machine's own baseline: no step and no limit is passed."
        return Judgement(Verdict.PASSED, (Reason("at_baseline", text),), drop)
    if drop is not None and drop >= limits.wear_margin_db:
        text = f"The level fell by {drop:.1f} dB but is not back where it belongs."
        return Judgement(Verdict.PARTIAL, (Reason("above_baseline", text), *said.reasons), drop)
    text = "The level is not back at the machine's own baseline."
    return Judgement(Verdict.FAILED, (Reason("above_baseline", text), *said.reasons), drop)


_NOT_BY_PROBE: Final = Reason(
    "not_by_probe", "The reading has no level by contact probe, so it says nothing of the repair."
)
_NO_BASELINE: Final = Reason(
    "no_baseline_yet",
    "There is no baseline to measure the repair by, as after a new bearing: it stays open until readings of "
    "the good machine have made one.",
)
_NOT_COMPARABLE: Final = Reason(
    "not_comparable",
    "The reading doesn't compare with the baseline: read again at its speed, load and probe.",
)
_STILL_NAMED: Final = Reason(
    "still_named", "The level is back, yet somebody still heard a fault: have it looked at, and read again."
)


def _lacks_baseline(said: WearSaid) -> bool:
    return any(reason.code in {"too_few_readings", "good_state_not_confirmed"} for reason in said.reasons)


def judge_discharge(
    after: Heard, *, repaired_at: datetime, energised: bool | None, qualified: bool
) -> Judgement:
    """Judge electrical gear from outside its closed covers.

    Passed only when a qualified person states that nothing was heard while the gear was live: gear
    that is switched off is silent for another reason. Never lowers a class set by another method.
    """
    doubts = _order_doubts(after, repaired_at)
    if after.heard is None:
        doubts.append(Reason("statement_missing", "It is not stated whether discharge was heard."))
    if after.heard and not doubts:
        return Judgement(Verdict.FAILED, (Reason("still_heard", "Discharge is still heard."),))
    if not qualified:
        doubts.append(Reason("not_qualified", "The statement needs a person qualified for electrical gear."))
    if not energised:
        doubts.append(Reason("not_energised", "The gear was not live, so that silence proves nothing."))
    if doubts:
        return Judgement(Verdict.CANNOT_TELL, tuple(doubts))
    text = "A qualified person heard no discharge while the gear was live."
    return Judgement(Verdict.PASSED, (Reason("nothing_heard", text),))


def _order_doubts(after: Heard, repaired_at: datetime) -> list[Reason]:
    if after.observed_at > repaired_at:
        return []
    return [Reason("not_after_repair", "The reading was not taken after the repair.")]


def _like_doubts(before: Heard, after: Heard, limits: VerdictLimits, *, distance: bool) -> list[Reason]:
    doubts = []
    if before.instrument_family is None or before.instrument_family != after.instrument_family:
        doubts.append(Reason("other_instrument", "The two readings are not of one family of instruments."))
    if distance:
        ratio = _ratio(before.distance_m, after.distance_m)
        if ratio is None:
            doubts.append(Reason("distance_missing", "A distance is missing on one side."))
        elif ratio > limits.distance_ratio:
            doubts.append(Reason("other_distance", "The two readings were taken from unlike distances."))
    return doubts


def _pressure_doubts(before: Heard, after: Heard, limits: VerdictLimits) -> list[Reason]:
    return _ratio_doubt("pressure", before.pressure_gauge_pa, after.pressure_gauge_pa, limits.pressure_share)


def _ratio_doubt(name: str, before: float | None, after: float | None, share: float) -> list[Reason]:
    if before is None or after is None:
        return [Reason(f"{name}_missing", f"The {name} is missing on one side.")]
    if before == 0 or abs(after - before) > share * abs(before):
        return [Reason(f"other_{name}", f"The {name} was not within {share:.0%} of the one before.")]
    return []


def _ratio(one: float | None, other: float | None) -> float | None:
    if one is None or other is None or min(one, other) <= 0:
        return None
    return max(one, other) / min(one, other)


def _by_flow(before: Heard, after: Heard, limits: VerdictLimits) -> Judgement:
    first, last = before.flow_m3_per_s, after.flow_m3_per_s
    if first is None or last is None or first <= 0 or last < 0:
        return Judgement(Verdict.CANNOT_TELL, (Reason("flow_missing", "A measured flow has no value."),))
    drop = _level_drop(before, after)
    if last <= limits.gone_share * first:
        return Judgement(Verdict.PASSED, (Reason("flow_gone", "The measured flow is gone."),), drop, 0.0)
    if last < first:
        reason = Reason("flow_left", f"{last / first:.0%} of the measured flow is left.")
        return Judgement(Verdict.PARTIAL, (reason,), drop, last)
    reason = Reason("flow_unchanged", "The measured flow has not fallen.")
    return Judgement(Verdict.FAILED, (reason,), drop, last)


def _by_level(before: Heard, after: Heard, limits: VerdictLimits) -> Judgement:
    drop = _level_drop(before, after)
    audible = _audible(after, limits)
    if audible is False:
        return _silence(before, after, limits, drop)
    if drop is None:
        return Judgement(Verdict.CANNOT_TELL, (Reason("level_missing", "A level is missing on one side."),))
    if drop < limits.drop_db:
        return Judgement(Verdict.FAILED, (_unchanged(drop, limits.drop_db),), drop, after.flow_m3_per_s)
    if audible is None:
        text = "The level fell, but the background was not recorded: it may still be heard."
        return Judgement(Verdict.CANNOT_TELL, (Reason("background_missing", text),), drop)
    reasons = [Reason("still_heard", f"The level fell by {drop:.1f} dB, yet it is still heard.")]
    if after.flow_m3_per_s is None:
        reasons.append(Reason("residual_unknown", "What is left has no flow yet: estimate it."))
    return Judgement(Verdict.PARTIAL, tuple(reasons), drop, after.flow_m3_per_s)


def _silence(before: Heard, after: Heard, limits: VerdictLimits, drop: float | None) -> Judgement:
    """Believe that nothing is heard only where the old sound would have stood out."""
    if after.background_db is None or before.level_db is None:
        reason = Reason("background_missing", "Without background and level before, silence proves nothing.")
        return Judgement(Verdict.CANNOT_TELL, (reason,), drop)
    if before.level_db - after.background_db < limits.drop_db:
        reason = Reason("masked", "The background is too loud: the old sound would not have stood out.")
        return Judgement(Verdict.CANNOT_TELL, (reason,), drop)
    reason = Reason("nothing_heard", "Nothing is heard above the background, where the old sound stood out.")
    return Judgement(Verdict.PASSED, (reason,), drop, 0.0)


def _audible(after: Heard, limits: VerdictLimits) -> bool | None:
    if after.heard is not None:
        return after.heard
    if after.level_db is None or after.background_db is None:
        return None
    return after.level_db > after.background_db + limits.audible_db


def _level_drop(before: Heard, after: Heard) -> float | None:
    if before.level_db is None or after.level_db is None:
        return None
    return before.level_db - after.level_db


def _unchanged(drop_db: float, limit_db: float) -> Reason:
    return Reason(
        "level_unchanged", f"The level changed by {drop_db:.1f} dB down; a repair takes {limit_db:g}."
    )
