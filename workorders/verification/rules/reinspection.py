"""When to look again: after a repair, and as a matter of routine."""

import calendar
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from findings.kinds.base import FUEL_GASES, Medium
from findings.plant import rules as plant
from findings.plant.rules import Criticality
from workorders.orders.rules import PriorityClass, Reason


class Method(StrEnum):
    """What is listened to, as far as the interval depends on it."""

    AIR = "air"
    VACUUM = "vacuum"
    FUEL_GAS = "fuel_gas"
    BEARING = "bearing"
    SEAL = "seal"
    ELECTRICAL = "electrical"


def method_of(way: plant.Method, medium: Medium | None) -> Method:
    """Say how a measuring point counts for the interval, from the way it is listened to and its medium."""
    if way is not plant.Method.AIRBORNE:
        return _BY_WAY[way]
    if medium in FUEL_GASES:
        return Method.FUEL_GAS
    return Method.VACUUM if medium is Medium.VACUUM else Method.AIR


_BY_WAY: Final[Mapping[plant.Method, Method]] = MappingProxyType(
    {
        plant.Method.CONTACT: Method.BEARING,
        plant.Method.TONE_SOURCE: Method.SEAL,
        plant.Method.ELECTRICAL: Method.ELECTRICAL,
    }
)

AHEAD: Final = timedelta(days=14)
"""How long before its day a routine visit is asked for, so that it can be put on a walk."""

ROUTINE_MONTHS: Final[Mapping[Method, tuple[int, int, int]]] = MappingProxyType(
    {
        Method.AIR: (3, 6, 12),
        Method.VACUUM: (3, 6, 12),
        Method.FUEL_GAS: (1, 3, 6),
        Method.BEARING: (1, 3, 6),
        Method.SEAL: (6, 12, 24),
        Method.ELECTRICAL: (6, 12, 12),
    }
)
"""Months between visits for criticality A, B, C: starting values, our judgement.

Electrical gear is fitted into the visits its own standard asks and never replaces them.
"""

CHECK_DAYS: Final[Mapping[PriorityClass, int]] = MappingProxyType(
    {PriorityClass.P1: 0, PriorityClass.P2: 7, PriorityClass.P3: 14, PriorityClass.P4: 30}
)
"""Days from repair to its check; P1 is checked the same day, before return to service."""

PERSISTENCE_DAYS: Final = 60
CHRONIC_PERSISTENCE_DAYS: Final = 30
"""Days until one looks whether a repair lasts: 30 to 90 is common practice, soonest where it came back."""

AFTER_MACHINE_WORK_DAYS: Final = (1, 7, 30)
"""After greasing or replacing a bearing: a day, a week, a month, then routine (our judgement)."""


@dataclass(frozen=True, slots=True)
class Due:
    """A day to look again, with the rule that set it."""

    on: date
    reason: Reason


def add_months(day: date, months: int) -> date:
    """Go whole months on; a day the month lacks becomes its last day."""
    year, index = divmod(day.year * 12 + day.month - 1 + months, 12)
    last = calendar.monthrange(year, index + 1)[1]
    return date(year, index + 1, min(day.day, last))


def check_due(repaired_on: date, priority: PriorityClass) -> Due:
    """Give the day by which a repair must be read again, with the header at working pressure."""
    days = CHECK_DAYS[priority]
    text = "Checked before return to service." if days == 0 else f"{priority}: checked within {days} days."
    return Due(repaired_on + timedelta(days=days), Reason("after_repair", text))


def persistence_due(verified_on: date, *, chronic: bool, sampled: bool) -> Due | None:
    """Give the day to see whether a verified repair lasts: every chronic spot, else only the sample."""
    if chronic:
        on = verified_on + timedelta(days=CHRONIC_PERSISTENCE_DAYS)
        return Due(on, Reason("came_back_before", "This spot has come back before."))
    if sampled:
        on = verified_on + timedelta(days=PERSISTENCE_DAYS)
        return Due(on, Reason("lasting_sample", "Drawn to see whether repairs last."))
    return None


def routine_due(
    last_on: date,
    method: Method,
    criticality: Criticality,
    *,
    months: Mapping[Method, tuple[int, int, int]] = ROUTINE_MONTHS,
) -> Due:
    """Give the day of the next routine visit from the last one."""
    step = months[method][list(Criticality).index(criticality)]
    word = "month" if step == 1 else "months"
    text = f"Routine: {method.replace('_', ' ')}, criticality {criticality}, every {step} {word}."
    return Due(add_months(last_on, step), Reason("routine", text))


def machine_work_due(worked_on: date, visits_since: int) -> Due | None:
    """Give the next of the three visits after work on a machine, or None when they are done."""
    if visits_since >= len(AFTER_MACHINE_WORK_DAYS):
        return None
    days = AFTER_MACHINE_WORK_DAYS[visits_since]
    text = f"Visit {visits_since + 1} of {len(AFTER_MACHINE_WORK_DAYS)} after work on the machine."
    return Due(worked_on + timedelta(days=days), Reason("after_machine_work", text))


def earliest(*candidates: Due | None, latest_on: date | None = None) -> Due:
    """Take the earliest day that any rule sets, and never later than a legal or site limit.

    Raises ValueError when no rule sets a day and there is no limit.
    """
    days = [due for due in candidates if due is not None]
    if latest_on is not None:
        days.append(Due(latest_on, Reason("limit", "The latest day allowed by law or site.")))
    if not days:
        msg = "No rule sets a day to look again."
        raise ValueError(msg)
    return min(days, key=lambda due: due.on)
