"""The clocks of orders that were really opened, made to wait, and taken up again."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from findings.kinds.base import Kind
from findings.plant.models import Site
from tests.makers import NOW, make_site, make_site_day, make_working_week
from tests.people import actor_at, api_for, member
from tests.workorders.scene import air_point, gas_heard, heard, moved, ordered
from workorders.orders import queries
from workorders.orders.actions import add_level, change_level, change_priority, levels_of
from workorders.orders.models import ClockSegment, ServiceLevel, WorkOrder
from workorders.orders.rules import Clock, ClockReading, ClockState, MoveName, PriorityClass

DAY, HOUR = timedelta(days=1), timedelta(hours=1)


def repair_clock(order: WorkOrder, at: Any) -> ClockReading:
    """Read the clock of the repair from what is stored."""
    stored = queries.orders().get(pk=order.pk)
    return next(one for one in queries.clocks_of([stored], at)[order.pk] if one.clock is Clock.REPAIR)


def in_working_hours(site: Site, hours: int = 40) -> None:
    """Promise the repairs of P3 and P4 in working hours."""
    for row in levels_of(site_id=site.pk, at=NOW):
        if row.priority in {"P3", "P4"}:
            change_level(actor=actor_at(site), at=NOW, level_id=row.pk, repair_working_hours=hours)


def small_order(site: Site | None = None) -> WorkOrder:
    """An order of the third or fourth class, at a site that works two day shifts."""
    site = site or make_site()
    make_working_week(site)
    in_working_hours(site)
    order = ordered(heard(air_point(site), severity=2))
    assert order.priority in {"P3", "P4"}
    return order


@pytest.mark.django_db
class TestPromise:
    def test_in_working_hours_skips_the_night(self) -> None:
        # From Monday 09:00 to 22:00 are 13, then 16 a day: Wednesday 17:00 local time, 16:00 UTC.
        assert small_order().due_at == NOW.replace(day=4, hour=16)

    def test_of_a_kind_goes_before_that_of_every_kind(self) -> None:
        site = make_site()
        order_of_all = ordered(heard(air_point(site), severity=2))
        add_level(
            actor=actor_at(site), at=NOW, site_id=site.pk, priority=PriorityClass(order_of_all.priority),
            kind=Kind.PRESSURE_LEAK, source="agreed", respond_hours=1, repair_days=3, verify_days=3,
        )  # fmt: skip

        assert ordered(heard(air_point(site), severity=2)).due_at == NOW + 3 * DAY

    def test_of_a_hazard_is_never_longer_by_law(self) -> None:
        site = make_site()
        levels_of(site_id=site.pk, at=NOW)

        with pytest.raises(DatabaseError, match="service_level_p1_limit"), transaction.atomic():
            ServiceLevel.objects.filter(site=site, priority="P1").update(repair_hours=25)

    def test_of_a_hazard_is_never_in_working_hours_by_law(self) -> None:
        site = make_site()
        levels_of(site_id=site.pk, at=NOW)

        with pytest.raises(DatabaseError, match="service_level_p1_limit"), transaction.atomic():
            ServiceLevel.objects.filter(site=site, priority="P1").update(
                repair_hours=None, repair_working_hours=1
            )

    def test_of_a_safety_order_runs_day_and_night_by_law(self) -> None:
        order = ordered(gas_heard())

        with pytest.raises(DatabaseError, match="order_safety_day_and_night"), transaction.atomic():
            WorkOrder.objects.filter(pk=order.pk).update(
                promise={"repair": {"amount": 60, "unit": "working_minutes"}}
            )


@pytest.mark.django_db
class TestWaiting:
    def test_for_parts_moves_the_due_time_by_what_was_left(self) -> None:
        order = small_order()
        moved(order, MoveName.WAIT, NOW + HOUR, wait_reason="parts")

        resumed = moved(order, MoveName.RESUME, NOW + 7 * DAY + HOUR)

        assert resumed.due_at == order.due_at + 7 * DAY

    def test_for_a_permit_moves_nothing(self) -> None:
        order = small_order()
        moved(order, MoveName.WAIT, NOW + HOUR, wait_reason="permit")

        assert moved(order, MoveName.RESUME, NOW + DAY).due_at == order.due_at

    def test_holds_the_clock_and_says_why(self) -> None:
        order = small_order()
        moved(order, MoveName.WAIT, NOW + HOUR, wait_reason="parts", text="seal kit")

        reading = repair_clock(order, NOW + 20 * DAY)

        assert (reading.state, reading.used, reading.paused_why) == (
            ClockState.PAUSED,
            HOUR,
            "parts: seal kit",
        )

    def test_is_not_overdue_meanwhile(self) -> None:
        order = small_order()
        moved(order, MoveName.WAIT, NOW + HOUR, wait_reason="parts")

        assert queries.shown(NOW + 90 * DAY).get(pk=order.pk).overdue is False

    def test_begun_too_late_heals_nothing(self) -> None:
        order = small_order()
        moved(order, MoveName.WAIT, order.due_at + HOUR, wait_reason="parts")

        resumed = moved(order, MoveName.RESUME, order.due_at + 3 * DAY)

        assert (resumed.due_at, repair_clock(order, order.due_at + 4 * DAY).breached_at) == (
            order.due_at,
            order.due_at,
        )

    def test_stops_no_clock_of_a_danger(self) -> None:
        order = ordered(gas_heard())
        make_site_day(order.site, date(2026, 3, 3))
        moved(order, MoveName.WAIT, NOW + HOUR, wait_reason="shutdown")

        assert repair_clock(order, NOW + 25 * HOUR).breached_at == order.due_at

    def test_answers_the_order(self) -> None:
        order = small_order()

        assert moved(order, MoveName.WAIT, NOW + HOUR, wait_reason="parts").responded_at == NOW + HOUR


@pytest.mark.django_db
class TestSegments:
    def test_are_a_chain(self) -> None:
        order = small_order()
        moved(order, MoveName.WAIT, NOW + HOUR, wait_reason="parts")
        moved(order, MoveName.RESUME, NOW + DAY)

        rows = ClockSegment.objects.filter(order=order).order_by("began_at")

        assert list(rows.values_list("began_at", "ended_at", "wait_reason", "pauses")) == [
            (NOW, NOW + HOUR, "", []),
            (NOW + HOUR, NOW + DAY, "parts", ["repair"]),
            (NOW + DAY, None, "", []),
        ]

    def test_end_with_the_order(self) -> None:
        order = small_order()
        moved(order, MoveName.CANCEL, NOW + DAY, cancel_reason="duplicate")

        assert not ClockSegment.objects.filter(order=order, ended_at__isnull=True).exists()

    def test_never_overlap_by_law(self) -> None:
        order = small_order()
        ClockSegment.objects.filter(order=order).update(ended_at=NOW + DAY)

        with pytest.raises(DatabaseError, match="clock_segment_one_at_a_time"), transaction.atomic():
            ClockSegment.objects.create(site=order.site, order=order, began_at=NOW + HOUR, for_safety=False)

    def test_are_never_rewritten(self) -> None:
        small_order()

        with pytest.raises(DatabaseError, match="only added"), transaction.atomic():
            ClockSegment.objects.update(wait_reason="parts")


@pytest.mark.django_db
class TestPriority:
    def test_ranked_lower_does_not_heal_what_is_broken(self) -> None:
        order = small_order()
        late = order.due_at + HOUR

        lower = change_priority(
            actor=actor_at(order.site), at=late, order_id=order.pk, version=None,
            priority=PriorityClass.P4, reason="it can wait",
        )  # fmt: skip

        assert lower.due_at <= order.due_at


@pytest.mark.django_db
class TestDoor:
    def test_tells_the_clocks_and_the_chain(self) -> None:
        order = small_order()
        moved(order, MoveName.WAIT, NOW + HOUR, wait_reason="parts")

        body = api_for(member(order.site, "inspector")).get(f"/work-orders/{order.pk}/clocks").json()

        assert (
            [clock["clock"] for clock in body["clocks"]],
            [one["wait_reason"] for one in body["segments"]],
        ) == (
            ["acknowledge", "repair"],
            ["", "parts"],
        )

    def test_of_the_list_takes_as_many_queries_for_many(self, django_assert_max_num_queries: Any) -> None:
        site = make_site()
        api = api_for(member(site, "inspector"))
        for _ in range(3):
            ordered(heard(air_point(site)))

        with django_assert_max_num_queries(14):
            assert len(api.get("/work-orders", site_id=str(site.pk)).json()["results"]) == 3

    def test_of_pauses_refuses_to_hold_a_safety_order(self) -> None:
        site = make_site()
        api = api_for(member(site, "planner"))
        [row] = api.get("/pause-rules", site_id=str(site.pk), wait_reason="parts", for_safety="true").json()[
            "results"
        ]

        answer = api.patch(f"/pause-rules/{row['id']}", {"pauses": ["repair"]}, version=row["version"])

        assert (answer.status_code, answer.json()["code"]) == (422, "pause_refused")
