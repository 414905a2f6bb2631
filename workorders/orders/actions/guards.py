"""Load an order, and write only what nobody changed meanwhile."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db.models import F

from findings.logbook import actions as logbook
from plantcare.api.actor import Actor
from plantcare.api.etags import etag
from plantcare.api.problems import NotFound, PreconditionFailed
from workorders.orders import queries
from workorders.orders.models import WorkOrder


class OrderUnknown(NotFound):
    """No such work order."""


class OrderChanged(PreconditionFailed):
    """Somebody else changed the order first."""

    title = "Somebody changed the order meanwhile."


def load(order_id: uuid.UUID, version: int | None = None) -> WorkOrder:
    """Return the order. Raises OrderUnknown, and OrderChanged when another version was seen."""
    order = queries.orders().filter(pk=order_id).first()
    if order is None:
        raise OrderUnknown
    if version is not None and version != order.version:
        raise changed(order.pk, f"version {version}")
    return order


def guarded(order: WorkOrder, actor: Actor, **fields: Any) -> WorkOrder:
    """Write fields and the next version if version and state are still those read.

    Raises OrderChanged, naming both states and both people, when somebody was faster.
    """
    same = WorkOrder.objects.filter(pk=order.pk, version=order.version, state=order.state)
    if not same.update(version=F("version") + 1, **fields):
        raise changed(order.pk, f"{order.state} at version {order.version}", actor)
    return queries.orders().get(pk=order.pk)


def changed(order_id: uuid.UUID, seen: str, actor: Actor | None = None) -> OrderChanged:
    """Return the refusal of a change made from something older than what is stored."""
    now = queries.orders().get(pk=order_id)
    first = queries.last_actor_name(order_id) or "somebody"
    you = actor.name if actor is not None else "you"
    text = f"{first} made it {now.state} at version {now.version}; {you} saw {seen}."
    return OrderChanged(
        text, current_version=now.version, state=now.state, headers={"ETag": etag(now.version)}
    )


def log(
    order: WorkOrder,
    *,
    actor: Actor,
    at: datetime,
    act: str,
    reason: str = "",
    detail: Mapping[str, Any] | None = None,
) -> None:
    """Write the one entry of an act on an order."""
    logbook.write(
        site_id=order.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="work_order",
        subject_id=order.pk,
        subject_version=order.version,
        reason=reason.strip(),
        detail={"number": order.number, "state": order.state, **(detail or {})},
    )
