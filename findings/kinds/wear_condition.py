"""What a contact-probe reading says of a bearing or gear: state, severity, next look, and the date if any."""

import math
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from types import MappingProxyType
from typing import Any, Final

from findings.kinds.base import Kind
from findings.kinds.condition import ConditionFound, ConditionSource
from findings.kinds.wear_evidence import (
    TakenLevel,
    WearEvidence,
    evidence_from_json,
    evidence_to_json,
)
from findings.physics.estimate import Estimate, Reason
from findings.physics.trend import Trend, crossing, level_trend
from findings.physics.wear_baseline import Baseline, baseline
from findings.physics.wear_ladder import Step, WearState, WearVerdict, judge

METHOD: Final = "wear_by_contact_probe"
VERSION: Final = "1"
ADVANCED_SEVERITY: Final = 4
"""From here on one reading, or the inspector's own ear, is enough for an order."""
LOOK_AGAIN_DAYS: Final[Mapping[int, int]] = MappingProxyType({1: 90, 2: 30, 3: 14, 4: 7, 5: 1})
"""The longest until the next look by severity: our judgement, a starting point for the site's engineer."""
CONFIRM_DAYS: Final[Mapping[int, int]] = MappingProxyType({1: 14, 2: 14, 3: 7, 4: 3, 5: 1})
"""The same while the first reading over a limit waits for its second (our judgement)."""
UNTOLD_DAYS: Final = 30
"""Where nothing could be told: readings for a baseline are gathered about monthly (our judgement)."""
READ_AGAIN_DAYS: Final = 7
"""Where the reading itself is in doubt (our judgement)."""
DAYS_PER_MONTH: Final = 365.25 / 12.0
FARTHEST_DAYS: Final = 36_500.0
"""No end of an interval is told as a day beyond a hundred years."""
_NO_THRESHOLD: Final = Reason("no_step_above", "There is no step above the present level to give a date for.")


def wear_condition(evidence: WearEvidence) -> ConditionFound:
    """Judge the last reading of a point against its own baseline, ladder and trend.

    The state is a word of ``WearState``. Severity: 1 no step; 2 the statistical limit or the first step; 3 a
    further step; 4 a step that needs one reading only; 5 the top step (our judgement). ``order_due`` is
    False for a first alarm below that, and None where the level can't tell: no comparable baseline, a slow
    shaft, or a fault that somebody heard though the level is quiet.
    """
    judged = evidence.judged
    base = baseline(
        [one.level for one in evidence.baseline], good_state_confirmed=evidence.good_since is not None
    )
    verdict = judge(
        [one.level for one in (*evidence.series, judged)],
        base,
        ladder=evidence.ladder,
        slow_speed_hz=evidence.slow_speed_hz,
    )
    trend = _trend(evidence)
    date = _date_of_next_step(trend, base, verdict, evidence.ladder)
    severity = severity_of(verdict, evidence.ladder)
    return ConditionFound(
        kind=Kind.MECHANICAL_WEAR,
        source=ConditionSource.READING,
        method=METHOD,
        version=VERSION,
        state=verdict.state.value,
        severity=severity,
        opens_finding=verdict.alarm is True,
        order_due=_order_due(verdict, judged),
        look_again_days=_look_again(verdict, severity, trend, date),
        figures=_figures(evidence, base, verdict, trend, date),
        inputs=evidence_to_json(evidence),
        reasons=tuple(dict.fromkeys(_reasons(evidence, base, verdict, trend))),
    )


def recomputed(inputs: Mapping[str, Any]) -> ConditionFound:
    """Judge once more from the kept inputs; raises KeyError, TypeError or ValueError for unreadable ones."""
    return wear_condition(evidence_from_json(inputs))


def severity_of(verdict: WearVerdict, ladder: Sequence[Step]) -> int | None:
    """Return the severity of what was found, 1 to 5, or None where nothing can be told."""
    if verdict.alarm is None or verdict.step is None:
        return None
    if verdict.step == 0:
        return 2 if verdict.over_limit else 1
    if verdict.step == len(ladder):
        return 5
    if ladder[verdict.step - 1].one_reading:
        return ADVANCED_SEVERITY
    return 2 if verdict.step == 1 else 3


def _order_due(verdict: WearVerdict, judged: TakenLevel) -> bool | None:
    """Return whether an order is due; an inspector's ear is evidence that a quiet level can't unsay."""
    if verdict.work_order is not False or judged.quiet:
        return verdict.work_order
    heard_as_severe = judged.severity is not None and judged.severity >= ADVANCED_SEVERITY
    return None if not verdict.alarm or heard_as_severe else False


def _trend(evidence: WearEvidence) -> Trend:
    """Return the trend of the comparable readings, the day of the judged one being zero."""
    judged = evidence.judged
    taken = (*evidence.series, judged)
    days = [_days(judged.taken_at, one.taken_at) for one in taken]
    since = None if evidence.trend_since is None else _days(judged.taken_at, evidence.trend_since)
    return level_trend(days, [one.level for one in taken], since_day=since)


def _days(zero_at: datetime, moment: datetime) -> float:
    return (moment - zero_at) / timedelta(days=1)


def _next_step(verdict: WearVerdict, ladder: Sequence[Step]) -> Step | None:
    if verdict.step is None or verdict.step >= len(ladder):
        return None
    return ladder[verdict.step]


def _date_of_next_step(
    trend: Trend, base: Baseline, verdict: WearVerdict, ladder: Sequence[Step]
) -> Estimate | None:
    """Return in how many days a single reading will reach the next step; None where there is no such step."""
    step = _next_step(verdict, ladder)
    if step is None or base.mean.value is None:
        return None
    return crossing(trend, base.mean.value + step.rise_db, single=True)


def _look_again(verdict: WearVerdict, severity: int | None, trend: Trend, date: Estimate | None) -> int:
    """Return the longest wait in days: by state and step, halved by a rise beyond doubt, before the date."""
    if severity is None:
        far_below = any(reason.code == "far_below_baseline" for reason in verdict.reasons)
        days = READ_AGAIN_DAYS if far_below else UNTOLD_DAYS
    else:
        waits = verdict.alarm and not verdict.work_order
        days = (CONFIRM_DAYS if waits else LOOK_AGAIN_DAYS)[severity]
    if trend.upward:
        days //= 2
    if date is not None and date.low is not None:
        days = min(days, math.floor(date.low))
    return max(days, 1)


def _reasons(evidence: WearEvidence, base: Baseline, verdict: WearVerdict, trend: Trend) -> list[Reason]:
    """Return what led to the judgement, in plain words."""
    judged = evidence.judged
    found = [*_passed(base, verdict, evidence.ladder), *verdict.reasons]
    if judged.quiet and verdict.alarm:
        text = "Nobody named a fault here, but the level contradicts that: no all-clear."
        found.append(Reason("quiet_contradicted", text))
    if not judged.quiet and verdict.state is WearState.NO_STEP:
        text = "Somebody heard a fault though the level reaches no step: it stays open; record the sound."
        found.append(Reason("heard_but_not_loud", text))
    if verdict.state is WearState.NO_STEP and _alarmed_before(evidence, base):
        text = "The reading before alarmed and this one doesn't: the alarm isn't confirmed."
        found.append(Reason("alarm_not_confirmed", text))
    if trend.upward and trend.slope.value is not None:
        text = f"The level rises by {trend.slope.value * DAYS_PER_MONTH:.1f} dB a month beyond doubt (95 %)."
        found.append(Reason("rising", text))
    if base.mean.is_refused and evidence.others:
        text = (
            f"{evidence.others} readings of the point don't compare with this one: another instrument, "
            "probe, speed or load."
        )
        found.append(Reason("others_not_comparable", text))
    if judged.speed_assumed or any(one.speed_assumed for one in evidence.baseline):
        text = "The shaft speed wasn't noted; the machine's one rated speed is taken."
        found.append(Reason("speed_from_particulars", text))
    return found


def _passed(base: Baseline, verdict: WearVerdict, ladder: Sequence[Step]) -> list[Reason]:
    """Return which step or limit the level has passed."""
    rise, found = verdict.rise.value, []
    if verdict.step and rise is not None:
        step = ladder[verdict.step - 1]
        text = f"{rise:.1f} dB over the baseline, from {step.rise_db:g} dB on: {step.meaning} ({step.source})"
        found.append(Reason("step_reached", text))
    elif verdict.over_limit and base.limit_db is not None:
        text = (
            f"Above {base.limit_db:.1f} dB, the limit that 95 % of a good machine's readings stay below, "
            "though no step of the ladder is reached."
        )
        found.append(Reason("limit_passed", text))
    return found


def _alarmed_before(evidence: WearEvidence, base: Baseline) -> bool:
    """Tell whether the comparable reading just before was an alarm."""
    if not evidence.series:
        return False
    return judge([evidence.series[-1].level], base, ladder=evidence.ladder).alarm is True


def _figures(
    evidence: WearEvidence, base: Baseline, verdict: WearVerdict, trend: Trend, date: Estimate | None
) -> dict[str, Any]:
    """Return the numbers that people are shown, units in their names."""
    step = evidence.ladder[verdict.step - 1] if verdict.step else None
    return {
        "level_db": evidence.judged.level.level_db,
        "baseline": baseline_figures(base),
        "rise_db": verdict.rise.value,
        "rise_low_db": verdict.rise.low,
        "rise_high_db": verdict.rise.high,
        "step": verdict.step,
        "step_key": verdict.step_key,
        "step_meaning": None if step is None else step.meaning,
        "step_source": None if step is None else step.source,
        "over_limit": verdict.over_limit,
        "alarm": verdict.alarm,
        "trend": trend_figures(trend),
        "next_step": _next_step_figures(evidence, verdict, date),
    }


def baseline_figures(base: Baseline) -> dict[str, Any]:
    """Return a baseline as people read it; refused, it has its reasons only."""
    return {
        "mean_db": base.mean.value,
        "mean_low_db": base.mean.low,
        "mean_high_db": base.mean.high,
        "count": base.count,
        "sd_db": base.sd_db,
        "median_db": base.median_db,
        "robust_sd_db": base.robust_sd_db,
        "tolerance_factor": base.factor,
        "limit_db": base.limit_db,
        "speed_hz": base.speed_hz,
        "load_share": base.load,
        "reasons": _listed(base.mean.reasons),
    }


def trend_figures(trend: Trend) -> dict[str, Any]:
    """Return a trend as people read it; refused, it has its reasons only."""
    robust = trend.robust
    return {
        "slope_db_per_day": trend.slope.value,
        "slope_low_db_per_day": trend.slope.low,
        "slope_high_db_per_day": trend.slope.high,
        "count": trend.count,
        "p_value": trend.p_value,
        "upward": trend.upward,
        "robust_slope_db_per_day": None if robust is None else robust.slope,
        "kendall_tau": None if robust is None else robust.tau,
        "reasons": _listed(trend.slope.reasons),
    }


def _next_step_figures(evidence: WearEvidence, verdict: WearVerdict, date: Estimate | None) -> dict[str, Any]:
    """Return the next step and when a single reading will reach it, or why there is no date."""
    step, zero_at = _next_step(verdict, evidence.ladder), evidence.judged.taken_at
    if date is None:
        reasons = (verdict.rise.reasons if verdict.step is None else ()) or (_NO_THRESHOLD,)
    else:
        reasons = date.reasons
    low, middle, high = (
        None if date is None else _moment(zero_at, getattr(date, end)) for end in ("low", "value", "high")
    )
    return {
        "key": None if step is None else step.key,
        "rise_db": None if step is None else step.rise_db,
        "from_at": low,
        "at": middle,
        "until_at": high,
        "reasons": _listed(reasons),
    }


def _moment(zero_at: datetime, days: float | None) -> str | None:
    if days is None or days > FARTHEST_DAYS:
        return None
    return (zero_at + timedelta(days=days)).isoformat(timespec="minutes")


def _listed(reasons: Sequence[Reason]) -> list[dict[str, str]]:
    return [reason._asdict() for reason in reasons]
