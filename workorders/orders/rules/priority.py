"""Which order comes first: risk gives the class, the cost of waiting ranks inside it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from types import MappingProxyType
from typing import Final


class PriorityClass(StrEnum):
    """P1 is danger, P2 a regulated medium or threatened production, P3 cost or quality, P4 small."""

    P1 = "P1"
    P2 = "P2"
    P3 = "P3"
    P4 = "P4"

    @property
    def rank(self) -> int:
        """Count from 1, the most urgent."""
        return int(self.value[1])


class Hazard(StrEnum):
    """A danger that sets a floor under the class whatever the money says."""

    FUEL_GAS = "fuel_gas"
    OXYGEN = "oxygen"
    TOXIC = "toxic"
    DISCHARGE = "discharge"
    SUFFOCATION = "suffocation"
    STEAM = "steam"
    REGULATED = "regulated"


class ConsequenceArea(StrEnum):
    """What a fault may harm; the worst of the four counts."""

    SAFETY = "safety"
    ENVIRONMENT = "environment"
    PRODUCTION = "production"
    COST = "cost"


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a figure is what it is: a stable code and a sentence for people."""

    code: str
    text: str


HAZARD_FLOORS: Final[Mapping[Hazard, PriorityClass]] = MappingProxyType(
    {
        Hazard.FUEL_GAS: PriorityClass.P1,
        Hazard.OXYGEN: PriorityClass.P1,
        Hazard.TOXIC: PriorityClass.P1,
        Hazard.DISCHARGE: PriorityClass.P1,
        Hazard.SUFFOCATION: PriorityClass.P2,
        Hazard.STEAM: PriorityClass.P2,
        Hazard.REGULATED: PriorityClass.P2,
    }
)
"""The loosest class each hazard may have (our judgement). A site may tighten it, never loosen it."""


@dataclass(frozen=True, slots=True)
class PriorityTable:
    """A site's own numbers. Every default is our judgement and a starting point for its engineer.

    `cost_of_delay_limit_per_day` is in the site's currency; above it the class rises by one.
    Growth is the rise of the level over 30 days.
    """

    p2_from: int = 15
    p3_from: int = 8
    cost_of_delay_limit_per_day: Decimal = Decimal(50)
    growth_db_per_30_days: float = 3.0
    fast_growth_db_per_30_days: float = 6.0
    low_confidence: float = 0.5
    hazard_floors: Mapping[Hazard, PriorityClass] = field(default_factory=lambda: HAZARD_FLOORS)

    def __post_init__(self) -> None:
        """Refuse a table that is out of order or looser on a hazard than the default."""
        if not 1 < self.p3_from < self.p2_from <= 25:
            msg = "The limits of P3 and P2 must rise and lie between 2 and 25."
            raise ValueError(msg)
        if not self.cost_of_delay_limit_per_day > 0:
            msg = "The limit of the cost of delay must be above zero."
            raise ValueError(msg)
        if not 0 < self.growth_db_per_30_days <= self.fast_growth_db_per_30_days:
            msg = "The limits of growth must be above zero, and fast growth not below growth."
            raise ValueError(msg)
        for hazard, floor in HAZARD_FLOORS.items():
            if self.hazard_floors.get(hazard, PriorityClass.P4).rank > floor.rank:
                msg = f"The class of {hazard} may be tightened from {floor}, not loosened."
                raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class Priority:
    """The class, what made it, and the money a day of waiting costs (None: not known)."""

    priority: PriorityClass
    consequence: int
    likelihood: int
    cost_of_delay_per_day: Decimal | None
    reasons: tuple[Reason, ...]


def consequence_of(harms: Mapping[ConsequenceArea, int]) -> tuple[int, Reason]:
    """Take the worst of the consequences, each 1 to 5, and say which one it was."""
    if not harms:
        msg = "At least one consequence is needed."
        raise ValueError(msg)
    for area, step in harms.items():
        _check_step(area, step)
    order = list(ConsequenceArea)
    worst = max(harms, key=lambda area: (harms[area], -order.index(area)))
    return harms[worst], Reason("consequence", f"Consequence {harms[worst]} of 5, from {worst}.")


def likelihood_of(
    table: PriorityTable,
    *,
    severity: int,
    growth_db_per_30_days: float | None = None,
    confidence: float | None = None,
) -> tuple[int, tuple[Reason, ...]]:
    """Turn the condition into a likelihood of 1 to 5.

    Severity (1 to 5) is where it starts; growth of the level lifts it by one or two steps; a reading
    of low confidence (0 to 1) takes one step back, but not below the middle, so that doubt about a
    bad sound never hides it.
    """
    _check_step("severity", severity)
    reasons = [Reason("severity", f"Condition {severity} of 5.")]
    step = severity
    if growth_db_per_30_days is not None:
        lift = (growth_db_per_30_days >= table.growth_db_per_30_days) + (
            growth_db_per_30_days >= table.fast_growth_db_per_30_days
        )
        if lift:
            step = min(5, step + lift)
            reasons.append(
                Reason("growth", f"The level grew by {growth_db_per_30_days:.1f} dB in 30 days: {step} of 5.")
            )
    if confidence is not None and confidence < table.low_confidence and step > 3:
        step -= 1
        reasons.append(Reason("low_confidence", f"The reading is uncertain: one step back to {step} of 5."))
    return step, tuple(reasons)


def cost_of_delay(
    *,
    loss_cost_per_day: Decimal | None = None,
    failure_probability_per_day: Decimal | None = None,
    failure_cost: Decimal | None = None,
) -> Decimal | None:
    """Add the money lost per day and the expected cost of failure per day.

    Returns None when neither is known; raises ValueError when only one half of the failure is given,
    or on a negative input: no figure is made from a missing part.
    """
    given = (loss_cost_per_day, failure_probability_per_day, failure_cost)
    if any(value is not None and not value >= 0 for value in given):
        msg = "Costs and probabilities cannot be negative."
        raise ValueError(msg)
    if (failure_probability_per_day is None) != (failure_cost is None):
        msg = "The cost of a failure needs its probability, and the probability its cost."
        raise ValueError(msg)
    if failure_probability_per_day is None or failure_cost is None:
        return loss_cost_per_day
    return (loss_cost_per_day or Decimal(0)) + failure_probability_per_day * failure_cost


def prioritise(
    table: PriorityTable,
    *,
    consequence: int,
    likelihood: int,
    hazard: Hazard | None = None,
    cost_of_delay_per_day: Decimal | None = None,
    reasons: tuple[Reason, ...] = (),
) -> Priority:
    """Give the class: matrix, then the lift by cost of delay, then the hazard's floor.

    The product of two ordinal steps only selects a class; it is never added to money. Money lifts
    by one class and never into P1. `reasons` of the inputs are kept in front of the rule's own.
    """
    _check_step("consequence", consequence)
    _check_step("likelihood", likelihood)
    told = list(reasons)
    step = _matrix(table, consequence, likelihood, told)
    step = _lift_by_cost(table, step, cost_of_delay_per_day, told)
    if hazard is not None:
        floor = table.hazard_floors[hazard]
        if step.rank > floor.rank:
            step = floor
            told.append(Reason("hazard_floor", f"{_title(hazard)}: {floor} at least, whatever the money."))
    return Priority(step, consequence, likelihood, cost_of_delay_per_day, tuple(told))


def _matrix(table: PriorityTable, consequence: int, likelihood: int, told: list[Reason]) -> PriorityClass:
    product = consequence * likelihood
    if product >= table.p2_from:
        step = PriorityClass.P2
    elif product >= table.p3_from:
        step = PriorityClass.P3
    else:
        step = PriorityClass.P4
    told.append(
        Reason("matrix", f"Consequence {consequence} by likelihood {likelihood} is {product}: {step}.")
    )
    if consequence == 5 and step.rank > PriorityClass.P2.rank:
        step = PriorityClass.P2
        told.append(Reason("consequence_floor", "The highest consequence is never below P2."))
    return step


def _lift_by_cost(
    table: PriorityTable, step: PriorityClass, cost_per_day: Decimal | None, told: list[Reason]
) -> PriorityClass:
    if cost_per_day is None:
        told.append(
            Reason("cost_of_delay_unknown", "The cost of waiting is not estimated and lifts nothing.")
        )
        return step
    limit = table.cost_of_delay_limit_per_day
    if cost_per_day <= limit or step.rank <= PriorityClass.P2.rank:
        return step
    lifted = PriorityClass(f"P{step.rank - 1}")
    told.append(
        Reason("cost_of_delay", f"Waiting costs more than {limit} a day: lifted from {step} to {lifted}.")
    )
    return lifted


def rank_key(
    priority: Priority, *, trade_hours: Decimal | None, found_at: datetime
) -> tuple[int, int, Decimal, datetime]:
    """Give the sort key of a list: class, then money saved per hour of work, then the oldest first.

    An order whose money or hours are not known comes after those whose are, inside its class.
    """
    if priority.cost_of_delay_per_day is None or trade_hours is None or trade_hours <= 0:
        return (priority.priority.rank, 1, Decimal(0), found_at)
    return (priority.priority.rank, 0, -(priority.cost_of_delay_per_day / trade_hours), found_at)


def _check_step(name: str, step: int) -> None:
    if not 1 <= step <= 5:
        msg = f"The {name} must be a step of 1 to 5, not {step}."
        raise ValueError(msg)


def _title(word: str) -> str:
    return word.replace("_", " ").capitalize()
