"""What a greasing by ear did: the levels that the technician marked before, during and after it.

The technician says what each level is; nothing here looks for events in a run of levels.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from findings.physics.estimate import Estimate, Reason, refused
from findings.physics.level_difference import level_difference
from findings.physics.wear_baseline import SMALLEST_SD_DB, Baseline, WearReading
from findings.physics.wear_ladder import WearState, WearVerdict, judge

METHOD = "level_before_and_after_greasing"
VERSION = "1"
FIRST_PORTION, LAST_PORTION = 1.0 / 3.0, 1.0 / 2.0
"""Grease goes in slowly, a third to a half of the charge at a time (common practice)."""
OVERFILL = 1.1
"""From a tenth over the charge on too much went in (judgement)."""


class Mark(StrEnum):
    """Name what the technician says a level is; RISING: the level starts to rise while grease goes in."""

    BEFORE = "before"
    DURING = "during"
    RISING = "rising"
    AFTER = "after"


class GreaseStep(NamedTuple):
    """A marked reading and the grease that has gone in so far, in kg."""

    mark: Mark
    grease_kg: float
    reading: WearReading


class Outcome(StrEnum):
    """Name what the greasing did to the level."""

    NOT_DETERMINED = "not_determined"
    UNDER_WAY = "under_way"
    BACK_AT_BASELINE = "back_at_baseline"
    LOWER = "lower"
    UNCHANGED = "unchanged"
    HIGHER = "higher"


class Advice(StrEnum):
    """Name what to do next."""

    ADD_A_PORTION = "add_a_portion"
    STOP_AND_READ = "stop_and_read_again"
    DONE = "done"
    INSPECT = "inspect"
    ASK = "ask"


@dataclass(frozen=True)
class Greasing:
    """What a greasing did; ``change`` is the level after less the level before, refused while open."""

    outcome: Outcome
    advice: Advice
    change: Estimate
    grease_kg: float | None
    left_kg: float | None
    reasons: tuple[Reason, ...]


def portion_kg(charge_kg: float) -> tuple[float, float]:
    """Return the least and the most grease to add before the next reading, in kg."""
    return charge_kg * FIRST_PORTION, charge_kg * LAST_PORTION


def greasing(steps: Sequence[GreaseStep], base: Baseline | None, charge_kg: float | None) -> Greasing:
    """Return what the marked steps, in order, tell: the change of level, and whether to go on.

    Grease goes in until the level is back, the technician marks that it rises, or the charge has been
    given. "Back at baseline" needs a baseline that compares with the last reading. A level that doesn't
    come back after the whole charge isn't a matter of grease. Refused for steps out of order.
    """
    problems = step_problems(steps, charge_kg)
    if problems:
        change = _refused(problems)
        return Greasing(Outcome.NOT_DETERMINED, Advice.ASK, change, None, None, problems)
    last, given = steps[-1], steps[-1].grease_kg
    verdict = judge([last.reading], base)
    left = None if charge_kg is None else max(charge_kg - given, 0.0)
    remarks = [*_amount_remarks(given, charge_kg), *verdict.reasons]
    if last.mark is not Mark.AFTER:
        advice = _next_step(last.mark, verdict, left)
        text = "The level after greasing isn't marked yet."
        change = _refused((Reason("not_finished", text),))
        return Greasing(Outcome.UNDER_WAY, advice, change, given, left, tuple(remarks))
    change = _change(steps[0].reading.level_db, last.reading.level_db, base)
    outcome = _outcome(change, verdict)
    risen = outcome is Outcome.HIGHER or any(step.mark is Mark.RISING for step in steps)
    advice = _last_advice(outcome, verdict, spent=risen or left == 0.0)
    if advice is Advice.INSPECT:
        text = "Grease didn't bring the level back: look for damage, don't add more."
        remarks.append(Reason("grease_did_not_help", text))
    return Greasing(outcome, advice, change, given, left, tuple(remarks))


def step_problems(steps: Sequence[GreaseStep], charge_kg: float | None) -> tuple[Reason, ...]:
    """Return why a record of greasing can't be read."""
    problems = []
    marks = [step.mark for step in steps]
    if not marks or marks[0] is not Mark.BEFORE or Mark.BEFORE in marks[1:]:
        problems.append(Reason("before_missing", "The record begins with one level marked before greasing."))
    if Mark.AFTER in marks[:-1]:
        problems.append(Reason("after_not_last", "The level marked after greasing comes last, once."))
    amounts = [step.grease_kg for step in steps]
    if not all(math.isfinite(amount) for amount in amounts) or amounts != sorted(amounts):
        problems.append(Reason("grease_decreases", "The grease given so far can't become less."))
    elif amounts and amounts[0] != 0.0:
        problems.append(Reason("grease_before", "Before greasing no grease has been given."))
    if not all(math.isfinite(step.reading.level_db) for step in steps):
        problems.append(Reason("not_finite", "A level isn't a finite number."))
    if len({(step.reading.setting, step.reading.speed_hz, step.reading.load) for step in steps}) > 1:
        text = "Setting, speed and load stay the same from the first level to the last."
        problems.append(Reason("settings_mixed", text))
    if charge_kg is not None and not (math.isfinite(charge_kg) and charge_kg > 0.0):
        problems.append(Reason("charge_not_positive", "The charge must be above zero."))
    return tuple(problems)


def _refused(problems: tuple[Reason, ...]) -> Estimate:
    """Return the change that isn't known."""
    return refused(unit="dB", method=METHOD, version=VERSION, reasons=problems, inputs={})


def _change(before_db: float, after_db: float, base: Baseline | None) -> Estimate:
    """Return the level after less the level before, each scattering like the baseline's readings."""
    scatter = max((base.sd_db if base else None) or 0.0, SMALLEST_SD_DB)
    return level_difference(after_db, before_db, scatter, method=METHOD, version=VERSION)


def _outcome(change: Estimate, verdict: WearVerdict) -> Outcome:
    """Return what a finished greasing did; back only where the level can be judged and is quiet."""
    if verdict.state is WearState.NO_STEP:
        return Outcome.BACK_AT_BASELINE
    if change.high is not None and change.high < 0.0:
        return Outcome.LOWER
    return Outcome.HIGHER if change.low is not None and change.low > 0.0 else Outcome.UNCHANGED


def _next_step(mark: Mark, verdict: WearVerdict, left_kg: float | None) -> Advice:
    """Return what to do while greasing is under way."""
    if left_kg is None:
        return Advice.ASK
    back = verdict.state is WearState.NO_STEP and mark is not Mark.BEFORE
    if mark is Mark.RISING or back or left_kg <= 0.0:
        return Advice.STOP_AND_READ
    return Advice.ADD_A_PORTION


def _last_advice(outcome: Outcome, verdict: WearVerdict, *, spent: bool) -> Advice:
    """Return what a finished greasing asks for; ``spent``: more grease is of no use."""
    if outcome is Outcome.BACK_AT_BASELINE:
        return Advice.DONE
    return Advice.INSPECT if verdict.alarm and spent else Advice.ASK


def _amount_remarks(given_kg: float, charge_kg: float | None) -> list[Reason]:
    """Return what there is to say of the amount."""
    if charge_kg is None:
        text = "The charge isn't known: work it out from the bearing's size before more grease goes in."
        return [Reason("charge_unknown", text)]
    if given_kg > OVERFILL * charge_kg:
        return [Reason("overfilled", "More than the charge went in; too much grease heats the bearing.")]
    return []
