"""The best set of repairs for a budget of money, of hours, or of both.

What counts is the net gain: saving over the stated time less the repair's cost; money that isn't spent is
kept. Repairs for safety are done whatever they save. The savings are taken as they are given and added:
that is right only while all repairs together stay inside one range of the machine that trims.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, NamedTuple

from findings.physics.estimate import Reason
from findings.planning.branch_and_bound import Choice, Thing, best_choice

MOST_CANDIDATES: Final = 500
MOST_NODES: Final = 200_000
MOST_PLACES: Final = 12


@dataclass(frozen=True)
class Candidate:
    """A repair that may be done: saving and cost in one currency, hours of work; ``mandatory``: safety."""

    key: str
    saving: Decimal
    cost: Decimal
    hours: Decimal = Decimal(0)
    mandatory: bool = False

    @property
    def net(self) -> Decimal:
        """Return saving less cost."""
        return self.saving - self.cost


class Budget(NamedTuple):
    """The most that may be spent; None: without limit."""

    money: Decimal | None = None
    hours: Decimal | None = None


@dataclass(frozen=True)
class Plan:
    """The repairs chosen, in the order given, and what they come to.

    ``bound`` is a net gain that no plan exceeds; ``is_proven`` tells that this plan reaches it, else ``gap``
    is the part of the bound by which it may fall short.
    """

    chosen: tuple[str, ...]
    saving: Decimal
    cost: Decimal
    hours: Decimal
    bound: Decimal
    is_proven: bool
    gap: Decimal
    reasons: tuple[Reason, ...]

    @property
    def net(self) -> Decimal:
        """Return saving less cost."""
        return self.saving - self.cost


class PlanRefused(ValueError):
    """Candidates or a budget of which no plan can be made; ``reason`` says why."""

    def __init__(self, reason: Reason) -> None:
        """Keep the reason."""
        super().__init__(reason.text)
        self.reason = reason


_ADDING: Final = Reason(
    "savings_added",
    "The savings are added up. That holds inside one range of the machine that trims; where the repairs "
    "together let a machine stop, or take more than it trims, compute them as one leak.",
)


def best_plan(candidates: Sequence[Candidate], budget: Budget, *, most_nodes: int = MOST_NODES) -> Plan:
    """Return the plan with the highest net gain inside the budget, mandatory repairs first.

    Exact: amounts are counted in whole smallest units. Raises PlanRefused for too many candidates, two of
    one key, negative or endless amounts.
    """
    _check(candidates, budget)
    forced = [candidate for candidate in candidates if candidate.mandatory]
    left, reasons = _left(budget, forced)
    free = [candidate for candidate in candidates if not candidate.mandatory and candidate.net > 0]
    choice, unit = _search(free, left, most_nodes)
    keys = {free[place].key for place in choice.chosen} | {candidate.key for candidate in forced}
    chosen = [candidate for candidate in candidates if candidate.key in keys]
    net = sum((candidate.net for candidate in chosen), Decimal(0))
    bound = net + (choice.bound - choice.value) * unit
    gap = (bound - net) / abs(bound) if bound > net and bound else Decimal(0)
    if not choice.is_proven:
        text = (
            f"Not proven optimal: no plan is more than {gap:.2%} better. Fewer candidates make it provable."
        )
        reasons.append(Reason("not_proven", text))
    return Plan(
        tuple(candidate.key for candidate in chosen),
        sum((candidate.saving for candidate in chosen), Decimal(0)),
        sum((candidate.cost for candidate in chosen), Decimal(0)),
        sum((candidate.hours for candidate in chosen), Decimal(0)),
        bound,
        choice.is_proven,
        gap,
        (*reasons, _ADDING),
    )


def _check(candidates: Sequence[Candidate], budget: Budget) -> None:
    if len(candidates) > MOST_CANDIDATES:
        text = f"At most {MOST_CANDIDATES} repairs are planned at once."
        raise PlanRefused(Reason("too_many_candidates", text))
    if len({candidate.key for candidate in candidates}) != len(candidates):
        raise PlanRefused(Reason("key_twice", "Two repairs have one key."))
    amounts = [number for number in budget if number is not None]
    for candidate in candidates:
        amounts += [candidate.saving, candidate.cost, candidate.hours]
    if not all(amount.is_finite() and amount >= 0 for amount in amounts):
        text = "Savings, costs, hours and the budget are finite numbers not below 0."
        raise PlanRefused(Reason("amount_impossible", text))
    if any(_places(amount) > MOST_PLACES for amount in amounts):
        raise PlanRefused(Reason("too_fine", f"Amounts have at most {MOST_PLACES} decimal places."))


def _left(budget: Budget, forced: Sequence[Candidate]) -> tuple[list[Decimal | None], list[Reason]]:
    """Return what the mandatory repairs leave of money and hours, None where there is no limit."""
    reasons = []
    left: list[Decimal | None] = []
    spent = (
        sum((candidate.cost for candidate in forced), Decimal(0)),
        sum((candidate.hours for candidate in forced), Decimal(0)),
    )
    for limit, taken, word in zip(budget, spent, ("money", "hours"), strict=True):
        if limit is not None and taken > limit:
            text = (
                f"The repairs for safety alone take {taken - limit} {word} more than the budget; do them all."
            )
            reasons.append(Reason("mandatory_over_budget", text))
        left.append(None if limit is None else limit - taken)
    return left, reasons


def _search(
    free: Sequence[Candidate], left: Sequence[Decimal | None], most_nodes: int
) -> tuple[Choice, Decimal]:
    """Return the best choice in whole units, and the unit of its value."""
    if any(limit is not None and limit < 0 for limit in left):
        return Choice(frozenset(), 0, 0, 0), Decimal(1)
    amounts = [(candidate.net, candidate.cost, candidate.hours) for candidate in free]
    digits = [max((_places(amount[column]) for amount in amounts), default=0) for column in range(3)]
    limited = [column for column in (1, 2) if left[column - 1] is not None]
    things = [
        Thing(
            _whole(amount[0], digits[0]),
            tuple(_whole(amount[column], digits[column]) for column in limited) or (0,),
        )
        for amount in amounts
    ]
    limits = [_floor(left[column - 1], digits[column]) for column in limited] or [0]
    return best_choice(things, limits, most_nodes=most_nodes), Decimal(1).scaleb(-digits[0])


def _places(amount: Decimal) -> int:
    return max(-int(amount.as_tuple().exponent), 0)


def _whole(amount: Decimal, digits: int) -> int:
    return int(amount.scaleb(digits))


def _floor(limit: Decimal | None, digits: int) -> int:
    """Return a limit in whole units: what doesn't fill a unit can't be spent."""
    return int((limit or Decimal(0)).scaleb(digits))
