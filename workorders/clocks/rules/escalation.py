"""Who hears about ageing work, and how soon."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from types import MappingProxyType
from typing import Final

from findings.plant.rules import Right, Role


@dataclass(frozen=True, slots=True)
class EscalationStep:
    """A step is reached when this share of the clock is used, or this age, or this much money lost.

    The share may pass 1: that much of the allowed time again has gone by. None: that cause is not used.
    `lost` is in the site's currency.
    """

    to_role: Role
    share: Decimal | None = None
    age: timedelta | None = None
    lost: Decimal | None = None


DEFAULT_STEPS: Final = (
    EscalationStep(Role.TECHNICIAN, share=Decimal("0.5")),
    EscalationStep(Role.PLANNER, share=Decimal("0.8")),
    EscalationStep(Role.PLANNER, share=Decimal(1)),
    EscalationStep(Role.MANAGER, share=Decimal("1.5"), age=timedelta(days=120), lost=Decimal(2_500)),
)
"""A reminder at half time, a warning before the end, then upward (our judgement, the site's to change)."""

TAKEN_WITH: Final[Mapping[Role, Right]] = MappingProxyType(
    {
        Role.TECHNICIAN: Right.REPAIR,
        Role.PLANNER: Right.PLAN,
        Role.MANAGER: Right.CLOSE_BY_REASON,
    }
)
"""The right that taking an escalation takes; who may more may take what was meant for others too."""

GROWTH_FACTOR: Final = Decimal("1.5")
"""A leak that loses so many times as much as at the last step goes a step up, whatever its clock says (our
choice)."""

TAKEN_HOLDS: Final = timedelta(days=7)
TAKEN_HOLDS_DANGER: Final = timedelta(days=1)
"""How long whoever took a step is left in peace before the next one is told (our choice). What gets worse
meanwhile is told at once."""

_GROWN: Final[Mapping[str, str]] = MappingProxyType(
    {
        "rate": f"It leaks {GROWTH_FACTOR} times as much as at the last step, or more.",
        "condition": "Its condition is worse than at the last step.",
    }
)


def reason_of(
    step: EscalationStep,
    started_at: datetime,
    due_at: datetime,
    now: datetime,
    *,
    share: Decimal | None = None,
    growth: str = "",
) -> str:
    """Say in a sentence why a step was reached.

    `share` is the used share where a clock was read; `growth` names what got worse: rate, condition or
    nothing.
    """
    if share is not None:
        share_reached = step.share is not None and share >= step.share
    else:
        share_reached = step.share is not None and _is_reached(
            EscalationStep(step.to_role, share=step.share), now - started_at, due_at - started_at, None
        )
    if share_reached and step.share is not None:
        return f"{step.share:.0%} of the time allowed is used up."
    if step.age is not None and now - started_at >= step.age:
        return f"Nothing has ended it for {step.age.days} days."
    return _GROWN.get(growth, "A later step was reached first.")


def is_reached_by_share(
    number: int, steps: Sequence[EscalationStep], *, share: Decimal, age: timedelta
) -> bool:
    """Say whether a step (from 1), or a later one, is reached by a clock that was read, or by age."""
    return any(
        (step.share is not None and share >= step.share) or (step.age is not None and age >= step.age)
        for step in steps[number - 1 :]
    )


def escalation_step(
    found_at: datetime,
    due_at: datetime,
    now: datetime,
    *,
    lost: Decimal | None = None,
    steps: Sequence[EscalationStep] = DEFAULT_STEPS,
) -> int:
    """Count how far an order has climbed: 0 for nobody told, else the number of the highest step reached.

    Raises ValueError when the clock ends before it begins.
    """
    # On UTC first: two moments of one zone would be subtracted by the wall clock.
    found_at, due_at, now = (moment.astimezone(UTC) for moment in (found_at, due_at, now))
    if due_at < found_at:
        msg = "A clock cannot end before it begins."
        raise ValueError(msg)
    age = max(now - found_at, timedelta(0))
    allowed = due_at - found_at
    reached = [number for number, step in enumerate(steps, start=1) if _is_reached(step, age, allowed, lost)]
    return max(reached, default=0)


def _is_reached(step: EscalationStep, age: timedelta, allowed: timedelta, lost: Decimal | None) -> bool:
    if step.share is not None and _microseconds(age) >= step.share * _microseconds(allowed):
        return True
    if step.age is not None and age >= step.age:
        return True
    return step.lost is not None and lost is not None and lost >= step.lost


def _microseconds(length: timedelta) -> int:
    return length // timedelta(microseconds=1)
