"""Asking for routine visits."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from findings.kinds.base import Medium
from findings.plant.rules import Criticality, Method
from findings.routes.models import VisitRequest
from plantcare.api.actor import Actor
from tests.makers import NOW, make_asset, make_point
from tests.workorders.scene import at_once, listen
from workorders.clocks.actions import schedule_reinspections
from workorders.verification.rules import method_of

JOB = Actor.job("schedule_reinspections")
FAR = NOW + timedelta(days=365)


def requested(at: object = FAR) -> int:
    """Run the job and return how many visits were asked for."""
    return schedule_reinspections(actor=JOB, at=at)["requested"]  # type: ignore[arg-type]


@pytest.mark.django_db
class TestScheduleReinspections:
    @pytest.mark.parametrize(
        ("criticality", "due_on"),
        [("A", date(2026, 6, 2)), ("B", date(2026, 9, 2)), ("C", date(2027, 3, 2))],
    )
    def test_counts_from_the_last_reading_by_criticality(self, criticality: str, due_on: date) -> None:
        point = make_point(asset=make_asset(criticality=criticality))
        listen(point)

        requested()

        assert VisitRequest.objects.get(reason="periodic").due_on == due_on

    def test_names_point_and_day_as_its_origin(self) -> None:
        point = make_point(asset=make_asset(criticality="A"))
        listen(point)

        requested()

        assert VisitRequest.objects.get(reason="periodic").origin == f"periodic:{point.pk}:2026-06-02"

    def test_waits_until_two_weeks_before_the_day(self) -> None:
        listen(make_point(asset=make_asset(criticality="A")))

        assert requested(NOW + timedelta(days=70)) == 0

    def test_changes_nothing_the_second_time(self) -> None:
        listen(make_point())
        requested()

        assert requested() == 0

    def test_does_not_ask_again_for_a_visit_that_was_dropped(self) -> None:
        listen(make_point())
        requested()
        VisitRequest.objects.update(state="dropped")

        assert requested() == 0

    def test_leaves_out_what_is_no_longer_in_use(self) -> None:
        make_point(retired_at=NOW)
        make_point(asset=make_asset(decommissioned_at=NOW, decommissioned_reason="The line was taken away."))

        assert requested() == 0

    def test_asks_for_a_point_that_was_never_read(self) -> None:
        make_point()

        assert requested() == 1


@pytest.mark.django_db(transaction=True)
class TestTwoRuns:
    def test_ask_for_each_visit_once(self) -> None:
        for _ in range(3):
            make_point()

        results = at_once(*[requested] * 2)

        assert [type(result) for result in results] == [int, int]
        assert VisitRequest.objects.count() == 3


class TestMethodOf:
    @pytest.mark.parametrize(
        ("way", "medium", "method"),
        [
            (Method.AIRBORNE, Medium.NATURAL_GAS, "fuel_gas"),
            (Method.AIRBORNE, Medium.VACUUM, "vacuum"),
            (Method.AIRBORNE, None, "air"),
            (Method.CONTACT, None, "bearing"),
            (Method.TONE_SOURCE, None, "seal"),
            (Method.ELECTRICAL, None, "electrical"),
        ],
    )
    def test_follows_the_way_of_listening_and_the_medium(
        self, way: Method, medium: Medium | None, method: str
    ) -> None:
        assert method_of(way, medium) == method


def test_every_criticality_has_an_interval() -> None:
    assert [one.value for one in Criticality] == ["A", "B", "C"]
