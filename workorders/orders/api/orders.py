"""Doors of work orders."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework.response import Response

from findings.plant.access import POLICY
from findings.register import queries as register
from plantcare.api import filtering
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor, ChangeDoor, CreateDoor, Door, ListDoor
from workorders.orders import actions, queries
from workorders.orders.api.shapes import (
    EVIDENCE,
    MoveInput,
    OrderChange,
    OrderInput,
    OrderShape,
    OrderSheetShape,
    PriorityInput,
    choices,
    move_of,
)
from workorders.orders.rules import MoveName, OrderState, PriorityClass, allowed_moves


class OrderFilters(filtering.StrictFilterSet):
    """Narrow the list of orders."""

    site_id = filtering.UuidFilter()
    state = filtering.ChoicesFilter(choices=choices(OrderState))
    open = filtering.BooleanFilter(method="only_open")
    priority = filtering.ChoicesFilter(choices=choices(PriorityClass))
    assignee_id = filtering.UuidFilter(field_name="assignee__public_id")
    area_id = filtering.UuidFilter()
    asset_id = filtering.UuidFilter()
    finding_id = filtering.UuidFilter(method="having_finding")
    is_safety = filtering.BooleanFilter()
    overdue = filtering.BooleanFilter(method="only_overdue")
    due_before = filtering.AwareDateTimeFilter(field_name="due_at", lookup_expr="lt")
    opened_from = filtering.AwareDateTimeFilter(field_name="opened_at", lookup_expr="gte")
    q = filtering.TextFilter(fields=["title", "instructions", "asset__code", "asset__name"])

    def only_open(self, rows: QuerySet[Any], _: str, value: bool) -> QuerySet[Any]:
        """Return what is still work, or what ended."""
        return queries.only_open(rows, yes=value)

    def only_overdue(self, rows: QuerySet[Any], _: str, value: bool) -> QuerySet[Any]:
        """Return what is late, or what is not."""
        return queries.only_overdue(rows, self.request.parser_context["view"].at, yes=value)

    def having_finding(self, rows: QuerySet[Any], _: str, value: Any) -> QuerySet[Any]:
        """Return the orders of one finding."""
        return queries.having_finding(rows, value)


class WorkOrders(CreateDoor, ListDoor):
    """Work orders: list and open."""

    noun, room = "work_order", "orders"
    needs = {"GET": "view", "POST": "plan"}
    shape, input_shape, filterset_class = OrderShape, OrderInput, OrderFilters
    references = {"finding_ids.*": Reference(register.findings)}
    orderings = {
        "-opened_at": ("-opened_at", "-id"),
        "opened_at": ("opened_at",),
        "due_at": ("due_at",),
        "priority": ("priority", "due_at"),
        "-cost_of_delay_per_day": ("-cost_of_delay_per_day", "-id"),
        "number": ("number",),
    }

    def rows(self) -> QuerySet[Any]:
        """Return all orders as they stand now."""
        return queries.shown(self.at)

    def complete(self, page: list[Any]) -> None:
        """Read the clocks of a page's orders."""
        clocks = queries.clocks_of(page, self.at)
        for order in page:
            vars(order).update(clocks=clocks[order.pk])

    def act(self, data: dict[str, Any]) -> Any:
        """Open one."""
        data.pop("site_id", None)
        order = actions.open_order(actor=self.actor, at=self.at, **data)
        made = queries.shown(self.at).get(pk=order.pk)
        self.complete([made])
        return made


class _Papers(Door):
    """What the doors on one order share: its rows, and the whole paper as the answer."""

    room = "orders"
    shape = OrderSheetShape

    def rows(self) -> QuerySet[Any]:
        """Return all orders as they stand now."""
        return queries.shown(self.at)

    def answer(self, result: Any, **rest: Any) -> Response:
        """Answer the order with what belongs to it and what the caller may do next."""
        order = queries.sheet(result.pk, self.at)
        rows = allowed_moves(OrderState(order.state), POLICY.rights(self.actor, order.site_id))
        offered = [move_of(row, hazard=order.is_safety) for row in rows if "verdict" not in row.evidence]
        clocks = queries.clocks_of([order], self.at)[order.pk]
        vars(order).update(allowed_moves=offered, clocks=clocks)
        return super().answer(order, **rest)


class WorkOrder(_Papers, ChangeDoor):
    """One work order."""

    noun = "work_order"
    needs = {"GET": "view", "PATCH": "plan"}
    input_shape = OrderChange
    # What the caller may do next is no part of the version.
    conditional = False

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Say it anew."""
        return actions.change_order(
            actor=self.actor, at=self.at, order_id=obj.pk, version=self.version, **data
        )


class WorkOrderMoves(_Papers, ActDoor):
    """Move an order; the table of moves asks the right and the evidence."""

    operation = "work_order_move"
    needs = {"POST": "view"}
    input_shape = MoveInput
    if_match = "required"

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Take the move."""
        name = MoveName(data.pop("move"))
        return actions.move(
            actor=self.actor,
            at=self.at,
            order_id=obj.pk,
            name=name,
            evidence={EVIDENCE.get(member, member): value for member, value in data.items()},
            rights=POLICY.rights(self.actor, obj.site_id),
            version=self.version,
        )


class WorkOrderPriority(_Papers, ActDoor):
    """Rank an order by hand."""

    operation = "work_order_set_priority"
    needs = {"POST": "plan"}
    input_shape = PriorityInput

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Set the priority."""
        return actions.change_priority(
            actor=self.actor,
            at=self.at,
            order_id=obj.pk,
            version=self.version,
            priority=PriorityClass(data["priority"]),
            reason=data.get("reason", ""),
        )
