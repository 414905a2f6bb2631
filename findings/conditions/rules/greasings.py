"""What a marked greasing did to the level, from the readings that the technician marked."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from findings.conditions.rules.bearings import Problem
from findings.conditions.rules.probing import ProbeReading
from findings.kinds.wear_evidence import TakenLevel
from findings.physics.greasing import GreaseStep, Greasing, Mark, greasing
from findings.physics.wear_baseline import Baseline, baseline


@dataclass(frozen=True, slots=True, kw_only=True)
class NewGreasing:
    """Grease as a technician reports it: the marked readings, the mass in kg, and what the ear told.

    ``rose_during``: the level began to rise while grease went in. Without ``greased_at`` the moment of the
    reading after counts.
    """

    before_id: uuid.UUID
    after_id: uuid.UUID
    grease_kg: float
    during_id: uuid.UUID | None = None
    during_grease_kg: float | None = None
    rose_during: bool = False
    grease_name: str = ""
    greased_at: datetime | None = None
    note: str = ""


class Marked(NamedTuple):
    """The levels of one greasing and the mass in kg that had gone in when each was read."""

    before: TakenLevel
    after: TakenLevel
    grease_kg: float
    during: TakenLevel | None = None
    during_grease_kg: float | None = None
    rose_during: bool = False


def outcome_of(marked: Marked, base: Baseline | None, charge_kg: float | None) -> Greasing:
    """Return how the level answered; the charge is the bearing's, None where it isn't known."""
    steps = [GreaseStep(Mark.BEFORE, 0.0, marked.before.level)]
    if marked.during is not None:
        mark = Mark.RISING if marked.rose_during else Mark.DURING
        steps.append(GreaseStep(mark, marked.during_grease_kg or 0.0, marked.during.level))
    steps.append(GreaseStep(Mark.AFTER, marked.grease_kg, marked.after.level))
    return greasing(steps, base, charge_kg)


def baseline_levels(base: Baseline | None, reading_ids: list[str], charge_kg: float | None) -> dict[str, Any]:
    """Return in plain JSON types what an outcome was measured by."""
    return {
        "baseline_reading_ids": reading_ids,
        "baseline_mean_db": None if base is None else base.mean.value,
        "baseline_limit_db": None if base is None else base.limit_db,
        "charge_kg": charge_kg,
    }


def baseline_of(levels: list[TakenLevel], *, good_state_confirmed: bool) -> Baseline:
    """Return the baseline of the levels that a greasing is measured by."""
    return baseline([one.level for one in levels], good_state_confirmed=good_state_confirmed)


def greasing_problems(
    readings: Mapping[str, ProbeReading], at: datetime, grease_kg: float, during_grease_kg: float | None
) -> list[Problem]:
    """Return why the readings named can't be a greasing's: marks, levels, order, mass."""
    problems = []
    for name, reading in readings.items():
        if reading.greasing != name:
            text = f"The reading isn't marked as taken {name} greasing; mark it, or correct the reading."
            problems.append(Problem(f"{name}_id", "not_marked", text))
        if reading.level_db is None:
            problems.append(Problem(f"{name}_id", "level_missing", "The reading has no level."))
    moments = [reading.taken_at for reading in readings.values()]
    if moments != sorted(moments) or len(set(moments)) < len(moments):
        problems.append(Problem("before_id", "out_of_order", "Before, during and after follow each other."))
    if not moments[0] <= at <= moments[-1]:
        text = "The grease was given between the reading before and the one after."
        problems.append(Problem("at", "out_of_order", text))
    if during_grease_kg is not None and during_grease_kg > grease_kg:
        text = "No more can have gone in by then than in all."
        problems.append(Problem("during_grease_kg", "out_of_range", text))
    return problems
