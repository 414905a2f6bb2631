"""Open work orders: by hand, or for every finding that deserves one and has none."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F

from findings.kinds.base import Kind, Medium
from findings.kinds.cautions import Caution, cautions
from findings.kinds.registry import kind_of
from findings.plant.models import Site
from findings.plant.queries import members_of
from findings.plant.rules import Right, roles_with
from findings.register.models import Finding
from findings.register.queries import findings
from findings.register.rules import FindingStatus
from plantcare.api.actor import Actor
from plantcare.api.problems import Conflict, FieldError, Invalid, Refusal, constraint_refusals, pointer
from plantcare.jobs import items
from workorders.orders import queries
from workorders.orders.actions import guards, levels, pausing
from workorders.orders.actions.ranking import Ranking, rank
from workorders.orders.models import OrderCounter, OrderFinding, WorkOrder
from workorders.orders.rules import OrderState

MOST_FINDINGS = 100


class FindingsRefused(Invalid):
    """An order is for one to a hundred findings of one site."""

    code = "order_findings_refused"
    title = "An order is for one to a hundred findings of one site."


class FindingNotOpen(Conflict):
    """What is repaired, closed, dismissed or merged needs no order."""

    code = "finding_not_open"
    title = "Only an open or deferred finding can be ordered."


class FindingAlreadyOrdered(Conflict):
    """A finding has one open order at most."""

    code = "finding_already_ordered"
    title = "The finding has an open work order already."


class AssigneeUnknown(Invalid):
    """The person doesn't repair at this site."""

    code = "assignee_unknown"
    title = "Nobody with this id repairs at this site."


constraint_refusals["finding_one_open_order"] = FindingAlreadyOrdered


def open_order(
    *,
    actor: Actor,
    at: datetime,
    finding_ids: Sequence[uuid.UUID],
    title: str = "",
    instructions: str = "",
    assignee_id: int | None = None,
    released: bool = True,
) -> WorkOrder:
    """Open one order for findings of one site, ranked and promised, with the cautions of its findings.

    Without `released` it is a draft whose clock has not begun in earnest. Raises FindingsRefused,
    FindingNotOpen, FindingAlreadyOrdered (naming the order), AssigneeUnknown.
    """
    with transaction.atomic():
        found = _take(finding_ids)
        site = found[0].site
        if assignee_id is not None:
            check_assignee(site.pk, assignee_id)
        number = _next_number(site)
        _refuse_ordered(found)
        order = _insert(
            found,
            rank(found, at),
            at,
            number=number,
            title=title.strip(),
            instructions=instructions.strip(),
            assignee_id=assignee_id,
            state=OrderState.READY if released else OrderState.DRAFT,
        )
        if released:
            pausing.begin(order, actor, at)
        guards.log(
            order,
            actor=actor,
            at=at,
            act="work_order.opened",
            detail={
                "findings": [finding.pk for finding in found],
                "priority": order.priority,
                "due_at": order.due_at,
            },
        )
    return guards.load(order.pk)


def _take(finding_ids: Sequence[uuid.UUID]) -> list[Finding]:
    """Load and lock the findings, always in one order, and check that they can be ordered together."""
    wanted = list(dict.fromkeys(finding_ids))
    if not 1 <= len(wanted) <= MOST_FINDINGS:
        raise FindingsRefused(errors=[FieldError("/finding_ids", "length", FindingsRefused.title)])
    found = list(findings().filter(pk__in=wanted).select_for_update(of=("self",), no_key=True).order_by("pk"))
    if len(found) < len(wanted) or len({finding.site_id for finding in found}) > 1:
        raise FindingsRefused(errors=[FieldError("/finding_ids", "unknown_reference", "Not of one site.")])
    for finding in found:
        if finding.status not in (FindingStatus.OPEN, FindingStatus.DEFERRED):
            where = pointer("finding_ids", wanted.index(finding.pk))
            text = f"{finding} is {finding.status}."
            raise FindingNotOpen(text, errors=[FieldError(where, "finding_not_open", text)])
    return found


def _refuse_ordered(found: Sequence[Finding]) -> None:
    tied = OrderFinding.objects.filter(finding__in=found, ended_at__isnull=True)
    taken = tied.select_related("order", "finding").order_by("finding__number").first()
    if taken is not None:
        text = f"{taken.finding} is on {taken.order} already, which is {taken.order.state}."
        raise FindingAlreadyOrdered(text, order_id=str(taken.order_id), order_number=taken.order.number)


def check_assignee(site_id: uuid.UUID, user_id: int) -> None:
    """Refuse somebody who doesn't hold the right to repair at the site now. Raises AssigneeUnknown."""
    if not members_of(site_id, roles_with(Right.REPAIR)).filter(user_id=user_id).exists():
        raise AssigneeUnknown(errors=[FieldError("/assignee_id", "assignee_unknown", AssigneeUnknown.title)])


def _next_number(site: Site) -> int:
    """Give the next number; the counter's row lock makes orders of one site open one after another."""
    OrderCounter.objects.bulk_create([OrderCounter(site=site)], ignore_conflicts=True)
    OrderCounter.objects.filter(pk=site.pk).update(last_number=F("last_number") + 1)
    return OrderCounter.objects.values_list("last_number", flat=True).get(pk=site.pk)


def _insert(found: Sequence[Finding], ranking: Ranking, at: datetime, **given: Any) -> WorkOrder:
    leading = ranking.leading
    is_safety = any(finding.is_safety for finding in found)
    kinds = {finding.kind for finding in found}
    promise = levels.promise_of(leading.site, ranking.priority.priority, kinds, at, is_safety=is_safety)
    given["title"] = given["title"] or _title(leading, len(found))
    order = WorkOrder.objects.create(
        site=leading.site,
        area_id=leading.asset.area_id,
        asset=leading.asset,
        is_safety=is_safety,
        cautions=_cautions(found),
        opened_at=at,
        created_at=at,
        **given,
        **ranking.fields(),
        **promise,
    )
    OrderFinding.objects.bulk_create(
        OrderFinding(site=leading.site, order=order, finding=finding) for finding in found
    )
    return order


def _title(leading: Finding, count: int) -> str:
    more = f" and {count - 1} more" if count > 1 else ""
    return (
        f"{kind_of(leading.kind).label} at {leading.asset.code} {leading.asset.name}"[: 200 - len(more)]
        + more
    )


def _cautions(found: Sequence[Finding]) -> list[dict[str, Any]]:
    """Copy the cautions of all findings, each once, those of safety findings first."""
    told: dict[str, Caution] = {}
    for finding in sorted(found, key=lambda one: not one.is_safety):
        medium = Medium(finding.medium) if finding.medium else None
        for caution in cautions(Kind(finding.kind), medium):
            told.setdefault(caution.key, caution)
    return [caution._asdict() for caution in told.values()]


def open_due_orders(
    *, actor: Actor, at: datetime, site_ids: Sequence[uuid.UUID] | None = None, limit: int = 500
) -> dict[str, int]:
    """Open an order for each finding that deserves one and has none; return how many.

    A finding that another run has in hand is left to it; one that is refused doesn't stop the rest.
    """
    due = queries.due_an_order(at, site_ids).exclude(pk__in=items.parked())
    counts = {"opened": 0, "refused": 0}
    for finding_id in list(due.values_list("pk", flat=True)[:limit]):
        with items.spared(finding_id):
            try:
                counts["opened"] += _open_if_still_due(actor, at, finding_id)
            except Refusal:
                counts["refused"] += 1
    return counts


def _open_if_still_due(actor: Actor, at: datetime, finding_id: uuid.UUID) -> int:
    with transaction.atomic():
        mine = list(Finding.objects.select_for_update(skip_locked=True, no_key=True).filter(pk=finding_id))
        if not mine or queries.open_order_of(finding_id) is not None:
            return 0
        open_order(actor=actor, at=at, finding_ids=[finding_id])
    return 1
