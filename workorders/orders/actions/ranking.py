"""Rank an order by what its findings put at risk, and let people rank it higher."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django.db import transaction

from findings.kinds.base import Hazard, Kind, Medium
from findings.kinds.registry import kind_of
from findings.plant.rules import Criticality
from findings.register.models import Finding
from plantcare.api.actor import Actor
from plantcare.api.problems import FieldError, Invalid, Unprocessable
from workorders.orders.actions import guards, levels
from workorders.orders.models import WorkOrder
from workorders.orders.queries import prices_at
from workorders.orders.rules import (
    OPEN_STATES,
    OrderState,
    Priority,
    PriorityClass,
    PriorityTable,
    Reason,
    condition_of,
    consequence_of,
    daily_cost,
    harms_of,
    hazard_of,
    likelihood_of,
    prioritise,
)

_TABLE = PriorityTable()
_CENT_OF_CENT = Decimal("0.000001")
_MOST = Decimal(10) ** 12


class PriorityReasonMissing(Invalid):
    """Ranking lower than reckoned takes a reason in words."""

    code = "priority_reason_missing"
    title = "Say why the order may wait longer than reckoned."


class PriorityTooLow(Unprocessable):
    """A safety order is never ranked below what its hazards set."""

    code = "priority_below_safety"
    title = "A safety order is never ranked below what its hazards set."


class OrderEnded(Unprocessable):
    """A closed or cancelled order is history."""

    code = "order_ended"
    title = "The order is closed or cancelled."


@dataclass(frozen=True, slots=True)
class Ranking:
    """The priority of an order, and the finding that set it."""

    priority: Priority
    leading: Finding

    def fields(self) -> dict[str, Any]:
        """Return what an order keeps of it."""
        cost = self.priority.cost_of_delay_per_day
        return {
            "priority": self.priority.priority,
            "computed_priority": self.priority.priority,
            "priority_reasons": [asdict(reason) for reason in self.priority.reasons],
            "consequence": self.priority.consequence,
            "likelihood": self.priority.likelihood,
            "cost_of_delay_per_day": cost,
            "currency": "" if cost is None else self.leading.site.currency,
        }


def rank(found: Sequence[Finding], at: datetime) -> Ranking:
    """Rank findings that are repaired together: the gravest sets the class, their losses add up.

    Money is in the site's currency per day, None when a loss among them has no price.
    """
    cost, remarks = _cost_together(found, at)
    ranked = [Ranking(_rank_one(finding, cost, remarks), finding) for finding in found]
    return min(ranked, key=_gravest_first)


def _gravest_first(ranking: Ranking) -> tuple[int, int, int]:
    return (
        ranking.priority.priority.rank,
        -ranking.priority.consequence * ranking.priority.likelihood,
        ranking.leading.number,
    )


def _rank_one(finding: Finding, cost: Decimal | None, remarks: tuple[Reason, ...]) -> Priority:
    kind, medium = Kind(finding.kind), _medium_of(finding)
    harms = harms_of(kind, medium, Criticality(finding.asset.criticality), is_safety=finding.is_safety)
    consequence, why = consequence_of(harms)
    condition, doubt = condition_of(
        severity=finding.severity,
        condition_severity=finding.condition_severity,
        leak_rate_m3_per_s=finding.leak_rate_m3_per_s,
        level_db=finding.level_db,
    )
    likelihood, likely = likelihood_of(_TABLE, severity=condition)
    return prioritise(
        _TABLE,
        consequence=consequence,
        likelihood=likelihood,
        hazard=hazard_of(Hazard(finding.hazard), medium),
        cost_of_delay_per_day=cost,
        reasons=(why, *((doubt,) if doubt else ()), *likely, *remarks),
    )


def _cost_together(found: Sequence[Finding], at: datetime) -> tuple[Decimal | None, tuple[Reason, ...]]:
    total: Decimal | None = None
    remarks: dict[str, Reason] = {}
    for finding in found:
        if not kind_of(finding.kind).loses_gas:
            continue
        prices = prices_at(finding.site_id, finding.system, at)
        cost, remark = daily_cost(finding.leak_rate_m3_per_s, prices)
        if remark is not None:
            remarks.setdefault(remark.code, remark)
        if cost is None:
            return None, tuple(remarks.values())
        total = cost if total is None else total + cost
    if total is not None and total >= _MOST:
        return None, (Reason("cost_out_of_range", "The cost of a day is too large to be believed."),)
    if total is not None:
        total = total.quantize(_CENT_OF_CENT, ROUND_HALF_UP)
    return total, tuple(remarks.values())


def _medium_of(finding: Finding) -> Medium | None:
    return Medium(finding.medium) if finding.medium else None


def change_priority(
    *,
    actor: Actor,
    at: datetime,
    order_id: uuid.UUID,
    version: int | None,
    priority: PriorityClass,
    reason: str = "",
) -> WorkOrder:
    """Rank an order by hand; its promised times follow from the moment its clock began.

    Raises PriorityReasonMissing for a rank below the present or reckoned one without a reason, PriorityTooLow
    for such a rank of a safety order, OrderEnded, OrderChanged.
    """
    with transaction.atomic():
        order = guards.load(order_id, version)
        state = OrderState(order.state)
        if state not in OPEN_STATES:
            raise OrderEnded
        _check_rank(order, priority, reason)
        was, level = order.priority, levels.level_at(order.site_id, priority, at)
        promise = levels.promise(order.site, level, order.clock_from_at, order.repaired_at)
        order = guards.guarded(order, actor, priority=priority, **promise)
        guards.log(
            order,
            actor=actor,
            at=at,
            act="work_order.priority_changed",
            reason=reason,
            detail={"from": was, "to": priority, "computed": order.computed_priority},
        )
    return order


def _check_rank(order: WorkOrder, priority: PriorityClass, reason: str) -> None:
    reckoned, present = PriorityClass(order.computed_priority), PriorityClass(order.priority)
    if order.is_safety and priority.rank > reckoned.rank:
        text = f"This order was reckoned {reckoned}; it may be raised, not lowered to {priority}."
        raise PriorityTooLow(text, errors=[FieldError("/priority", "priority_below_safety", text)])
    if priority.rank > min(reckoned.rank, present.rank) and not reason.strip():
        text = f"It is {present}, reckoned {reckoned}: {priority} takes a reason."
        raise PriorityReasonMissing(text, errors=[FieldError("/reason", "required", text)])
