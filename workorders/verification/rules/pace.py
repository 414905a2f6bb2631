"""How the routine's step is stretched by quiet visits and drawn in by what was found.

The form is that of the skip periods of 40 CFR 60.482-7(c) (from memory): so many visits without a leak in a
row earn a longer step, one leak ends it. The numbers are our own judgement.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import date, timedelta
from decimal import Decimal
from types import MappingProxyType
from typing import Final

from findings.plant.rules import Criticality
from workorders.orders.rules import Reason
from workorders.verification.rules.reinspection import ROUTINE_MONTHS, Due, Method, routine_due

QUIET_IN_A_ROW: Final = 3
"""So many quiet visits in a row make the step longer by one; a single one that isn't quiet takes all back."""

PACES: Final = (Decimal(1), Decimal("1.5"), Decimal(2))
"""How many times as long as the usual step each pace is."""

LONGEST_PACE: Final[Mapping[Criticality, int]] = MappingProxyType(
    {Criticality.A: 1, Criticality.B: 2, Criticality.C: 2}
)
"""The slowest pace that an asset may come to, by its place in PACES."""

NEVER_SLOWER: Final = frozenset({Method.FUEL_GAS, Method.ELECTRICAL})
"""What can kill is looked at in its own time, however quiet it was."""

LONGEST_STEP: Final = timedelta(days=731)
DAYS_BACK: Final = 6
"""How far a visit is moved to a day on which the machine runs: a week holds one, or there is none."""


def pace_of(visits: Iterable[bool], method: Method, criticality: Criticality) -> int:
    """Return the place in PACES that visits, oldest first and True where quiet, have earned.

    More quiet ones never give a faster pace, one that is not quiet always gives the fastest.
    """
    if method in NEVER_SLOWER:
        return 0
    pace, quiet = 0, 0
    for is_quiet in visits:
        quiet = quiet + 1 if is_quiet else 0
        if not is_quiet:
            pace = 0
        elif quiet == QUIET_IN_A_ROW:
            pace, quiet = min(pace + 1, LONGEST_PACE[criticality]), 0
    return pace


def paced_due(
    last_on: date,
    method: Method,
    criticality: Criticality,
    visits: Iterable[bool],
    *,
    months: Mapping[Method, tuple[int, int, int]] = ROUTINE_MONTHS,
) -> Due:
    """Give the day of the next routine visit from the last one and from how quiet the visits were."""
    usual = routine_due(last_on, method, criticality, months=months)
    pace = PACES[pace_of(visits, method, criticality)]
    step = usual.on - last_on
    stretched = min(timedelta(days=int(step.days * pace)), max(step, LONGEST_STEP))
    if stretched == step:
        return usual
    text = f"{usual.reason.text[:-1]}, {pace} times as long after quiet visits."
    return Due(last_on + stretched, Reason("routine", text))


def look_again_due(last_on: date, days: int) -> Due:
    """Give the day by which a judged condition wants to be looked at again.

    It counts from the last look, so that the close rhythm holds until another condition is judged.
    """
    text = f"Its condition is to be looked at again within {days} {'day' if days == 1 else 'days'}."
    return Due(last_on + timedelta(days=days), Reason("condition", text))


def on_a_fitting_day(due: Due, *fits: Callable[[date], bool], after: date) -> date:
    """Return the last day up to the due one that fits, none before the day after `after`.

    A visit is moved forward, never put off. Where no day of the week before fits the first test, the next
    one is asked; where no test is met, the visit's own day stays.
    """
    week = [due.on - timedelta(days=back) for back in range(DAYS_BACK + 1)]
    days = (day for fit in fits for day in week if day > after and fit(day))
    return next(days, due.on)
