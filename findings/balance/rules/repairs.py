"""What if only so much money and so many hours were there: the best open findings to repair."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from typing import Final
from uuid import UUID

from findings.balance.rules.system_now import OpenLeak, SystemNow
from findings.balance.rules.yearly import Yearly, saving_of, yearly_of
from findings.physics.estimate import Estimate, Reason
from findings.physics.leak_balance import sum_of
from findings.planning.repair_plan import MOST_CANDIDATES, Budget, Candidate, Plan, PlanRefused, best_plan
from findings.register.rules import CostNow, LeakRate, finding_cost

CENT: Final = Decimal("0.01")
NO_FINDING: Final = Reason("no_finding", "No open finding with a rate is on this system.")


class Basis(StrEnum):
    """Which figure counts as a saving."""

    EXPECTED = "expected"
    FULL_LOAD = "full_load"


@dataclass(frozen=True, slots=True)
class Effort:
    """What a repair takes: money in the site's currency, hours of work."""

    cost: Decimal
    hours: Decimal


@dataclass(frozen=True, slots=True)
class Wish:
    """What may be spent, over how many years savings count, and what repairs take.

    ``own`` goes before ``usual``, the effort of a finding of which nothing better is known.
    """

    budget: Budget
    usual: Effort
    years: Decimal = Decimal(1)
    basis: Basis = Basis.EXPECTED
    own: Mapping[UUID, Effort] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Repairs:
    """The plan, its findings, and what they save together in W and money a year."""

    plan: Plan | None = None
    chosen: tuple[tuple[OpenLeak, Candidate], ...] = ()
    together: Estimate | None = None
    yearly: Yearly = field(default_factory=Yearly)
    reasons: tuple[Reason, ...] = ()


def best_repairs(now: SystemNow, wish: Wish) -> Repairs:
    """Return the findings whose repair gains most inside the budget; safety findings are always in.

    Refused where the saving of one of them can't be told: no figure stands in for another.
    """
    leaks = {str(leak.finding_id): leak for leak in now.leaks[:MOST_CANDIDATES]}
    figures = {key: _figure(now, leak, wish.basis) for key, leak in leaks.items()}
    why = [reason for figure in figures.values() if figure.per_year is None for reason in figure.reasons]
    if why or not leaks:
        return Repairs(reasons=tuple(Reason(*reason) for reason in dict.fromkeys(why)) or (NO_FINDING,))
    candidates = [_candidate(leak, figures[key], wish) for key, leak in leaks.items()]
    try:
        plan = best_plan(candidates, wish.budget)
    except PlanRefused as exc:
        return Repairs(reasons=(exc.reason,))
    picked = set(plan.chosen)
    return _together(now, plan, [(leaks[one.key], one) for one in candidates if one.key in picked])


def _figure(now: SystemNow, leak: OpenLeak, basis: Basis) -> CostNow:
    rate = LeakRate(Decimal(repr(leak.flow.value)))
    cost = finding_cost(rate, now.supply, now.known, now.station)
    return cost.expected if basis is Basis.EXPECTED else cost.full_load


def _candidate(leak: OpenLeak, figure: CostNow, wish: Wish) -> Candidate:
    effort = wish.own.get(leak.finding_id, wish.usual)
    saving = (figure.per_year or Decimal(0)) * wish.years
    return Candidate(
        str(leak.finding_id),
        saving.quantize(CENT, ROUND_HALF_UP),
        effort.cost,
        effort.hours,
        mandatory=leak.is_safety,
    )


def _together(now: SystemNow, plan: Plan, chosen: list[tuple[OpenLeak, Candidate]]) -> Repairs:
    """Add what the chosen repairs save together: the machines answer to their sum, not to each alone."""
    reasons = list(plan.reasons)
    if len(now.leaks) > MOST_CANDIDATES:
        text = f"Only the {MOST_CANDIDATES} largest findings were weighed."
        reasons.append(Reason("largest_only", text))
    if not chosen:
        text = "No repair gains more than it costs inside the budget."
        return Repairs(plan, reasons=(*reasons, Reason("nothing_pays", text)))
    together = saving_of(now, sum_of([leak.leak() for leak, _ in chosen])).estimate()
    return Repairs(plan, tuple(chosen), together, yearly_of(now, together), tuple(reasons))
