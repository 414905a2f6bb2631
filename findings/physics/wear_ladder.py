"""How far a contact-probe level has risen over its baseline, which step that is, and what follows from it."""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.input_check import number_problems
from findings.physics.uncertainty import coverage_factor
from findings.physics.wear_baseline import (
    LARGEST_LEVEL_DB,
    SMALLEST_SD_DB,
    Baseline,
    WearReading,
    same_load,
    same_speed,
)

METHOD = "rise_over_baseline"
VERSION = "1"
SLOW_SPEED_HZ = 25.0 / 60.0
"""Below about 25 turns a minute a bearing may be worn and still quiet (common practice)."""
_ROUNDING_DB = 1e-9


class Step(NamedTuple):
    """A step of the ladder: its key, the rise in dB that reaches it, its meaning and source.

    ``one_reading`` says whether a single reading is enough for a work order.
    """

    key: str
    rise_db: float
    meaning: str
    source: str
    one_reading: bool


_MEMORY = "common practice, from memory"
DEFAULT_LADDER = (
    Step("lubricate", 8.0, "Lubricate or inspect.", "a trade article on greasing by ear", one_reading=False),
    Step("early_damage", 12.0, "Early damage: inspect.", _MEMORY, one_reading=False),
    Step("advanced", 16.0, "Advanced damage: plan the repair.", _MEMORY, one_reading=True),
    Step("stop", 35.0, "Stop, or replace at once.", _MEMORY, one_reading=True),
)
"""A starting point for a site's own ladder, never a limit of a standard."""


class WearState(StrEnum):
    """Name what a reading says; only NO_STEP is a quiet answer, and it clears nothing but the level."""

    NOT_DETERMINED = "not_determined"
    LEVEL_DOES_NOT_DECIDE = "level_does_not_decide"
    NO_STEP = "no_step_reached"
    CONFIRM = "confirm_by_second_reading"
    WORK_ORDER = "work_order_due"


@dataclass(frozen=True)
class WearVerdict:
    """What the last reading says; None stands where something can't be decided, never for "no".

    ``step`` counts the steps reached, 0 for none; ``over_limit`` compares with the statistical limit.
    """

    state: WearState
    rise: Estimate
    reasons: tuple[Reason, ...]
    step: int | None = None
    step_key: str | None = None
    over_limit: bool | None = None
    alarm: bool | None = None
    work_order: bool | None = None


def ladder_problems(ladder: Sequence[Step]) -> tuple[Reason, ...]:
    """Return why a site's own ladder can't be used."""
    problems = []
    rises = [step.rise_db for step in ladder]
    if not rises or not all(math.isfinite(rise) and rise > 0.0 for rise in rises):
        problems.append(Reason("ladder_empty", "The ladder needs at least one step, each above 0 dB."))
    if any(later <= earlier for earlier, later in itertools.pairwise(rises)):
        problems.append(Reason("ladder_not_rising", "Each step of the ladder must lie above the one before."))
    if len({step.key for step in ladder}) < len(ladder):
        problems.append(Reason("ladder_key_twice", "Two steps of the ladder have the same key."))
    singles = [step.one_reading for step in ladder]
    if singles != sorted(singles) or not any(singles):
        text = "The top step needs one reading only, and so does each step above such a one."
        problems.append(Reason("ladder_confirmation", text))
    return tuple(problems)


def step_reached(rise_db: float, ladder: Sequence[Step] = DEFAULT_LADDER) -> int:
    """Return how many steps a rise reaches: a step is reached when the rise equals or tops it."""
    return sum(rise_db + _ROUNDING_DB >= step.rise_db for step in ladder)


def judge(
    readings: Sequence[WearReading],
    base: Baseline | None,
    *,
    ladder: Sequence[Step] = DEFAULT_LADDER,
    slow_speed_hz: float = SLOW_SPEED_HZ,
) -> WearVerdict:
    """Return what the last of the readings, oldest first, says against the point's baseline.

    Alarm: a ladder step is reached or the statistical limit passed. A work order is due when the reading
    before alarmed too, or at once from the first step that needs one reading only. Below ``slow_speed_hz``
    a level can alarm but its quiet clears nothing. Without a baseline, or where the reading isn't
    comparable with it, nothing is determined.
    """
    problems = (*ladder_problems(ladder), *_baseline_problems(base), *_reading_problems(readings))
    if not problems and base is not None:
        problems = comparison_problems(readings[-1], base)
    if problems or base is None:
        rise = refused(unit="dB", method=METHOD, version=VERSION, reasons=problems, inputs={})
        return WearVerdict(WearState.NOT_DETERMINED, rise, problems)
    last = readings[-1]
    rise = rise_over(last.level_db, base)
    step, over = _passed(last, base, ladder)
    alarm = step > 0 or over
    one_is_enough = step > 0 and ladder[step - 1].one_reading
    confirmed = one_is_enough or _alarmed_before(readings[:-1], base, ladder)
    slow = last.speed_hz is None or last.speed_hz < slow_speed_hz * (1.0 - 1e-9)
    state = _state(alarm=alarm, confirmed=confirmed, slow=slow, quiet=_too_quiet(last, base))
    decided = state is not WearState.NOT_DETERMINED
    open_question = None if slow or not decided else False
    return WearVerdict(
        state,
        rise,
        (
            *_REASONS[state],
            *_slow_alarm(alarm=slow and alarm, confirmed=confirmed),
            *(reason for reason in base.mean.reasons if reason.code == "outlier"),
        ),
        step=step if decided else None,
        step_key=ladder[step - 1].key if step else None,
        over_limit=over if decided else None,
        alarm=True if alarm else open_question,
        work_order=True if alarm and confirmed else open_question,
    )


def rise_over(level_db: float, base: Baseline) -> Estimate:
    """Return how far a single reading lies above a made baseline, with its 95 % prediction interval.

    The reading is taken to scatter like those of the baseline, at least by SMALLEST_SD_DB.
    """
    middle, sd = base.mean.value or 0.0, max(base.sd_db or 0.0, SMALLEST_SD_DB)
    rise = level_db - middle
    u = sd * math.sqrt(1.0 + 1.0 / base.count)
    half = coverage_factor(base.count - 1) * u
    return Estimate(
        value=rise,
        u=u,
        low=rise - half,
        high=rise + half,
        unit="dB",
        method=METHOD,
        method_version=VERSION,
        status=Status.MEASURED,
        inputs={"level_db": level_db, "baseline_db": middle, "baseline_readings": base.count},
    )


def comparison_problems(reading: WearReading, base: Baseline) -> tuple[Reason, ...]:
    """Return why a reading can't be compared with a baseline."""
    problems = []
    if reading.setting != base.setting:
        text = "The reading was taken with another instrument, probe or way of touching than the baseline."
        problems.append(Reason("setting_differs", text))
    if reading.speed_hz is None or base.speed_hz is None:
        text = "The shaft speed isn't known, so the reading can't be compared; note it."
        problems.append(Reason("speed_unknown", text))
    elif not _alike(reading.speed_hz, base.speed_hz):
        text = "The speed lies more than 10 % from that of the baseline; read again at that speed."
        problems.append(Reason("speed_differs", text))
    if (reading.load is None) != (base.load is None):
        text = "The load is known on one side only; note it with the reading as with the baseline."
        problems.append(Reason("load_unknown", text))
    elif (
        reading.load is not None and base.load is not None and not same_load([base.load] * 2 + [reading.load])
    ):
        text = "The load lies more than a tenth of rated load from that of the baseline."
        problems.append(Reason("load_differs", text))
    return tuple(problems)


def _alike(speed_hz: float, base_hz: float) -> bool:
    """Tell whether a speed is the baseline's; the pair keeps the baseline the median."""
    return same_speed([base_hz, base_hz, speed_hz])


def _baseline_problems(base: Baseline | None) -> tuple[Reason, ...]:
    """Return why there is nothing to compare with."""
    if base is None:
        text = "The point has no baseline yet; take one while the machine is known to be good."
        return (Reason("no_baseline", text),)
    return base.mean.reasons if base.mean.is_refused else ()


def _reading_problems(readings: Sequence[WearReading]) -> tuple[Reason, ...]:
    """Return why the last reading can't be judged at all."""
    if not readings:
        return (Reason("no_reading", "There is no reading to judge."),)
    last = readings[-1]
    numbers = [last.level_db, *(n for n in (last.speed_hz, last.load) if n is not None)]
    if number_problems([], numbers) or abs(last.level_db) > LARGEST_LEVEL_DB:
        return (Reason("level_out_of_range", "The reading holds an impossible number; correct it."),)
    return ()


def _passed(reading: WearReading, base: Baseline, ladder: Sequence[Step]) -> tuple[int, bool]:
    """Return the steps a comparable reading reaches and whether it passes the statistical limit."""
    rise = reading.level_db - (base.mean.value or 0.0)
    limit = math.inf if base.limit_db is None else base.limit_db
    return step_reached(rise, ladder), reading.level_db > limit


def _alarmed_before(earlier: Sequence[WearReading], base: Baseline, ladder: Sequence[Step]) -> bool:
    """Tell whether the reading just before was comparable and alarmed too."""
    if not earlier or _reading_problems(earlier) or comparison_problems(earlier[-1], base):
        return False
    step, over = _passed(earlier[-1], base, ladder)
    return step > 0 or over


def _too_quiet(reading: WearReading, base: Baseline) -> bool:
    """Tell whether a reading lies as far below the mean as the statistical limit lies above."""
    middle = base.mean.value or 0.0
    return base.limit_db is not None and middle - reading.level_db > base.limit_db - middle


def _state(*, alarm: bool, confirmed: bool, slow: bool, quiet: bool) -> WearState:
    """Return the state that a comparable reading leads to."""
    if quiet:
        return WearState.NOT_DETERMINED
    if slow:
        return WearState.LEVEL_DOES_NOT_DECIDE
    if not alarm:
        return WearState.NO_STEP
    return WearState.WORK_ORDER if confirmed else WearState.CONFIRM


def _slow_alarm(*, alarm: bool, confirmed: bool) -> tuple[Reason, ...]:
    """Return what an alarm at low speed still asks for."""
    if not alarm:
        return ()
    return _REASONS[WearState.WORK_ORDER if confirmed else WearState.CONFIRM]


_REASONS = {
    WearState.NOT_DETERMINED: (
        Reason(
            "far_below_baseline",
            "The level lies far below the baseline: check that the machine runs under load and the probe "
            "sits firmly, then read again.",
        ),
    ),
    WearState.LEVEL_DOES_NOT_DECIDE: (
        Reason(
            "slow_shaft",
            "At this low speed the level alone does not decide: a worn bearing may be quiet. Record the "
            "sound and have it judged.",
        ),
    ),
    WearState.NO_STEP: (
        Reason("level_only", "No step is reached. This speaks of the level only, not of silent faults."),
    ),
    WearState.CONFIRM: (
        Reason("first_alarm", "First reading over a limit: read again before a work order is written."),
    ),
    WearState.WORK_ORDER: (
        Reason("alarm_holds", "The level calls for work: have the bearing or gear looked at."),
    ),
}
