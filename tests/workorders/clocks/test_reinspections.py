"""Asking for routine visits."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from findings.kinds.base import Kind, Medium
from findings.plant.models import MeasuringPoint
from findings.plant.rules import Criticality, Method
from findings.routes.models import VisitRequest
from plantcare.api.actor import Actor
from tests.findings.conditions.judged import keep
from tests.makers import NOW, make_asset, make_point, make_site_day, make_working_week
from tests.workorders.scene import SILENT, at_once, listen
from workorders.clocks.actions import schedule_reinspections
from workorders.verification.rules import add_months, method_of

JOB = Actor.job("schedule_reinspections")
FAR = NOW + timedelta(days=365)
WEAR = {"kind": Kind.MECHANICAL_WEAR, "medium": "", "distance_m": None, "pressure_gauge_pa": None}


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


def quiet_visits(point: MeasuringPoint, count: int, every: timedelta = timedelta(days=60)) -> datetime:
    """Listen so many times and hear nothing; return when the last time was."""
    for n in range(count):
        listen(point, NOW + n * every, **SILENT)
    return NOW + (count - 1) * every


@pytest.mark.django_db
class TestPace:
    def test_three_quiet_visits_make_the_step_half_as_long_again(self) -> None:
        last = quiet_visits(make_point(asset=make_asset(criticality="B")), 3)

        requested(last + timedelta(days=400))

        half_a_year = add_months(last.date(), 6) - last.date()
        expected = last.date() + timedelta(days=int(half_a_year.days * 1.5))
        assert VisitRequest.objects.get(reason="periodic").due_on == expected

    def test_a_leak_takes_it_back(self) -> None:
        point = make_point(asset=make_asset(criticality="B"))
        last = quiet_visits(point, 3) + timedelta(days=30)
        listen(point, last)

        requested(last + timedelta(days=400))

        assert VisitRequest.objects.get(reason="periodic").due_on == add_months(last.date(), 6)

    def test_two_quiet_readings_of_one_day_are_one_visit(self) -> None:
        point = make_point(asset=make_asset(criticality="B"))
        last = quiet_visits(point, 3, timedelta(minutes=10))

        requested(last + timedelta(days=400))

        assert VisitRequest.objects.get(reason="periodic").due_on == add_months(last.date(), 6)

    def test_a_condition_asks_to_come_sooner(self) -> None:
        point = make_point(asset=make_asset(criticality="C"), method="contact")
        keep(listen(point, **WEAR).reading, look_again_days=7)

        requested(NOW)

        visit = VisitRequest.objects.get(reason="periodic")
        assert (visit.due_on, visit.note) == (
            date(2026, 3, 9),
            "Its condition is to be looked at again within 7 days.",
        )

    def test_a_condition_brings_a_wanted_visit_forward_once(self) -> None:
        point = make_point(asset=make_asset(criticality="A"), method="contact")
        listen(point, **WEAR)
        requested(NOW + timedelta(days=20))
        before = VisitRequest.objects.get(reason="periodic").due_on
        keep(listen(point, NOW + timedelta(hours=1), **WEAR).reading, look_again_days=5)

        counts = [schedule_reinspections(actor=JOB, at=NOW)["brought_forward"] for _ in range(2)]

        # The first reading was judged as it was taken, and asks for a look within 30 days.
        assert (before, counts) == (date(2026, 4, 1), [1, 0])
        assert VisitRequest.objects.get(reason="periodic").due_on == date(2026, 3, 7)

    def test_a_visit_falls_on_a_day_on_which_the_machine_runs(self) -> None:
        windows = [{"days": [0], "start": "06:00", "end": "14:00"}]
        listen(make_point(asset=make_asset(criticality="B", running_windows=windows)))

        requested()

        assert VisitRequest.objects.get(reason="periodic").due_on == date(2026, 8, 31)


@pytest.mark.django_db
class TestCalendar:
    def test_a_visit_falls_on_a_day_on_which_people_work(self) -> None:
        point = make_point(asset=make_asset(criticality="B"))
        make_working_week(point.asset.site)
        make_site_day(point.asset.site, date(2026, 9, 1), last_on=date(2026, 9, 2), kind="closed")
        listen(point)

        requested()

        assert VisitRequest.objects.get(reason="periodic").due_on == date(2026, 8, 31)

    def test_without_a_week_only_the_sites_own_days_count(self) -> None:
        point = make_point(asset=make_asset(criticality="C"), method="contact")
        make_site_day(point.asset.site, date(2026, 3, 8), last_on=date(2026, 3, 9), kind="closed")
        keep(listen(point, **WEAR).reading, look_again_days=7)

        requested(NOW)

        # Monday and Sunday are closed; Saturday is a day like any other where nobody has recorded a week.
        assert VisitRequest.objects.get(reason="periodic").due_on == date(2026, 3, 7)

    def test_the_machines_day_stands_before_the_peoples(self) -> None:
        windows = [{"days": [6], "start": "06:00", "end": "14:00"}]
        point = make_point(asset=make_asset(criticality="B", running_windows=windows))
        make_working_week(point.asset.site)
        listen(point)

        requested()

        assert VisitRequest.objects.get(reason="periodic").due_on == date(2026, 8, 30)

    def test_a_visit_brought_forward_falls_on_such_a_day_too(self) -> None:
        point = make_point(asset=make_asset(criticality="A"), method="contact")
        make_working_week(point.asset.site)
        listen(point, **WEAR)
        requested(NOW + timedelta(days=20))
        keep(listen(point, NOW + timedelta(hours=1), **WEAR).reading, look_again_days=6)

        schedule_reinspections(actor=JOB, at=NOW)

        assert VisitRequest.objects.get(reason="periodic").due_on == date(2026, 3, 6)


@pytest.mark.django_db
def test_visits_that_are_wanted_already_take_nobodys_place(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workorders.clocks.actions.MOST_VISITS", 2)
    asset = make_asset()
    for _ in range(3):
        make_point(asset=asset)

    assert [requested() for _ in range(3)] == [2, 1, 0]


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
