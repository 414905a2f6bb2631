"""What the database itself refuses about work orders, whoever asks."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction

from findings.plant.models import Site
from tests.makers import NOW, make_site
from tests.workorders.scene import air_point, gas_heard, heard, in_state, ordered
from workorders.orders.models import OrderFinding, RepairReport, WorkOrder
from workorders.orders.rules import OrderState


@pytest.mark.django_db
class TestWorkOrder:
    @pytest.mark.parametrize(
        ("values", "law"),
        [
            ({"state": "cancelled", "ended_at": NOW}, "order_cancelled_with_reason"),
            ({"state": "scheduled"}, "order_scheduled_has_time"),
            ({"state": "waiting"}, "order_waiting_has_reason"),
            ({"state": "repaired"}, "order_repaired_has_time"),
            ({"state": "closed"}, "order_ended_has_time"),
            ({"due_at": NOW - timedelta(days=1)}, "order_due_after_opened"),
            ({"priority": "P3"}, "order_safety_not_lowered"),
        ],
    )
    def test_is_refused(self, values: dict[str, Any], law: str) -> None:
        order = ordered(gas_heard())

        with pytest.raises(DatabaseError, match=law), transaction.atomic():
            WorkOrder.objects.filter(pk=order.pk).update(**values)

    def test_is_never_deleted(self) -> None:
        order = ordered(heard())

        with pytest.raises(DatabaseError, match="never deleted"), transaction.atomic():
            WorkOrder.objects.filter(pk=order.pk)._raw_delete("default")

    def test_has_a_number_of_its_own_at_its_site(self) -> None:
        site = make_site()
        ordered(heard(air_point(site)))
        second = ordered(heard(air_point(site)))

        with pytest.raises(DatabaseError, match="order_number_once_per_site"), transaction.atomic():
            WorkOrder.objects.filter(pk=second.pk).update(number=1)

    def test_stays_at_the_site_of_its_asset(self) -> None:
        order = ordered(heard())
        other = make_site()

        with pytest.raises(DatabaseError, match="same_site"), transaction.atomic():
            moved_to(other, order)


@pytest.mark.django_db
class TestOrderFinding:
    def test_ties_a_finding_to_one_open_order(self) -> None:
        finding = heard()
        ordered(finding)
        other = in_state(OrderState.READY, heard(air_point(finding.site)))

        with pytest.raises(DatabaseError, match="finding_one_open_order"), transaction.atomic():
            OrderFinding.objects.create(site=finding.site, order=other, finding=finding)


@pytest.mark.django_db
class TestRepairReport:
    def test_is_never_rewritten(self) -> None:
        in_state(OrderState.REPAIRED)

        with pytest.raises(DatabaseError, match="only added"), transaction.atomic():
            RepairReport.objects.update(action_taken="Nothing.")


def moved_to(site: Site, order: WorkOrder) -> None:
    """Write another site on an order and ask the database at once."""
    WorkOrder.objects.filter(pk=order.pk).update(site=site)
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
