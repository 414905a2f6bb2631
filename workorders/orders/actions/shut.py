"""Refuse to begin work at an enclosure that a discharge keeps shut."""

from __future__ import annotations

from datetime import datetime

from findings.panels.queries import who_may_release
from plantcare.api.problems import Conflict, constraint_refusals
from workorders.orders import queries
from workorders.orders.models import WorkOrder


class EnclosureKeptShut(Conflict):
    """No work begins there before a qualified person has released the opening."""

    code = "enclosure_kept_shut"
    title = "A discharge keeps an enclosure of this order shut until a qualified person has released it."


# The database refuses what slips through here: a finding added to running work, say.
constraint_refusals["order_started_at_shut_enclosure"] = EnclosureKeptShut


def refuse_kept_shut(order: WorkOrder, at: datetime) -> None:
    """Raise EnclosureKeptShut, which names the points and who may release them."""
    shut = queries.kept_shut_points(order.pk, at)
    if shut:
        points = ", ".join(point.code for point in shut)
        who = who_may_release(order.site_id, at)
        text = f"Kept shut by a discharge: {points}. Don't open it. {who}"
        raise EnclosureKeptShut(text, points=[str(point.pk) for point in shut])
