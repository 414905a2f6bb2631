"""Change what an order says: its title, its instructions, who is to do it."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from django.db import transaction

from plantcare.api.actor import Actor
from workorders.orders.actions import guards
from workorders.orders.actions.opening import check_assignee
from workorders.orders.actions.ranking import OrderEnded
from workorders.orders.models import WorkOrder
from workorders.orders.rules import OPEN_STATES, OrderState


def change_order(
    *, actor: Actor, at: datetime, order_id: uuid.UUID, version: int | None = None, **words: Any
) -> WorkOrder:
    """Change `title`, `instructions` or `assignee_id` (None: nobody) of an open order.

    Raises OrderUnknown, OrderChanged, OrderEnded, AssigneeUnknown.
    """
    with transaction.atomic():
        order = guards.load(order_id, version)
        if OrderState(order.state) not in OPEN_STATES:
            raise OrderEnded
        if words.get("assignee_id") is not None:
            check_assignee(order.site_id, words["assignee_id"])
        was = {name: getattr(order, name) for name in words}
        order = guards.guarded(order, actor, **words)
        guards.log(order, actor=actor, at=at, act="work_order.changed", detail={"from": was, "to": words})
    return order
