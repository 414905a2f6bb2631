"""When the job opens an order for wear: at the second alarm, at once for what is advanced, never before."""

from __future__ import annotations

from datetime import timedelta

import pytest

from plantcare.api.actor import Actor
from tests.findings.conditions.bearings import NOW, Bearing
from tests.workorders.scene import ordered
from workorders.orders.actions import open_due_orders
from workorders.orders.models import WorkOrder

pytestmark = pytest.mark.django_db
JOB = Actor.job("open-due-orders")
DAY = timedelta(days=1)


def opened(at=NOW) -> int:
    return open_due_orders(actor=JOB, at=at)["opened"]


class TestAnOrderForWear:
    def test_waits_for_the_second_alarm(self) -> None:
        bearing = Bearing().good()
        bearing.listen(36.0)
        first = opened()
        bearing.listen(36.5, at=NOW + DAY)

        assert (first, opened(NOW + DAY)) == (0, 1)

    def test_is_opened_even_for_the_lowest_step_once_it_is_confirmed(self) -> None:
        bearing = Bearing().good()
        bearing.listen(31.6)
        bearing.listen(31.8, at=NOW + DAY)

        assert opened(NOW + DAY) == 1

    def test_is_opened_at_once_for_an_advanced_step(self) -> None:
        Bearing().good().listen(40.0)

        assert opened() == 1

    def test_waits_though_the_inspector_called_a_first_alarm_marked(self) -> None:
        Bearing().good().worn(36.0, severity=3)

        assert opened() == 0

    @pytest.mark.parametrize(("severity", "orders"), [(3, 0), (4, 1)])
    def test_without_a_baseline_is_the_inspectors_ear_alone(self, severity: int, orders: int) -> None:
        Bearing().worn(50.0, severity=severity)

        assert opened() == orders

    def test_is_not_opened_for_an_alarm_that_was_not_confirmed(self) -> None:
        bearing = Bearing().good()
        bearing.listen(36.0)
        bearing.listen(23.5, at=NOW + DAY)

        assert opened(NOW + DAY) == 0

    def test_is_opened_by_hand_at_any_time(self) -> None:
        finding = Bearing().good().listen(31.6).finding

        assert ordered(finding).state == "ready"
        assert WorkOrder.objects.count() == 1
