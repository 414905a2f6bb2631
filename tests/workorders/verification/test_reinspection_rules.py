"""When to look again."""

from datetime import date, timedelta

import pytest

from findings.plant.rules import Criticality
from workorders.orders.rules import PriorityClass
from workorders.verification.rules import (
    ROUTINE_MONTHS,
    Method,
    add_months,
    check_due,
    earliest,
    machine_work_due,
    persistence_due,
    routine_due,
)

DAY = date(2025, 6, 11)


@pytest.mark.parametrize(
    ("day", "months", "found"),
    [
        (date(2025, 1, 31), 1, date(2025, 2, 28)),
        (date(2024, 1, 31), 1, date(2024, 2, 29)),
        (date(2025, 11, 30), 3, date(2026, 2, 28)),
        (date(2025, 12, 15), 12, date(2026, 12, 15)),
    ],
)
def test_months_end_inside_their_month(day: date, months: int, found: date) -> None:
    assert add_months(day, months) == found


class TestCheckDue:
    @pytest.mark.parametrize(("priority", "days"), [("P1", 0), ("P2", 7), ("P3", 14), ("P4", 30)])
    def test_follows_the_class(self, priority: str, days: int) -> None:
        assert (check_due(DAY, PriorityClass(priority)).on - DAY).days == days


class TestRoutineDue:
    @pytest.mark.parametrize(
        ("method", "criticality", "on"),
        [
            (Method.AIR, Criticality.A, date(2025, 9, 11)),
            (Method.FUEL_GAS, Criticality.A, date(2025, 7, 11)),
            (Method.BEARING, Criticality.B, date(2025, 9, 11)),
            (Method.SEAL, Criticality.C, date(2027, 6, 11)),
            (Method.ELECTRICAL, Criticality.C, date(2026, 6, 11)),
        ],
    )
    def test_follows_method_and_criticality(self, method: Method, criticality: Criticality, on: date) -> None:
        assert routine_due(DAY, method, criticality).on == on

    @pytest.mark.parametrize("method", list(Method))
    def test_more_critical_is_never_visited_less(self, method: Method) -> None:
        assert list(ROUTINE_MONTHS[method]) == sorted(ROUTINE_MONTHS[method])


class TestPersistence:
    def test_every_chronic_spot_is_looked_at_soonest(self) -> None:
        due = persistence_due(DAY, chronic=True, sampled=False)

        assert due is not None
        assert due.on == DAY + timedelta(days=30)

    def test_the_rest_only_when_drawn(self) -> None:
        assert persistence_due(DAY, chronic=False, sampled=False) is None


class TestMachineWork:
    def test_is_followed_by_a_day_a_week_and_a_month(self) -> None:
        dues = [machine_work_due(DAY, visits) for visits in range(4)]

        assert [due and (due.on - DAY).days for due in dues] == [1, 7, 30, None]


class TestEarliest:
    def test_takes_the_first_rule_and_its_reason(self) -> None:
        due = earliest(routine_due(DAY, Method.AIR, Criticality.B), check_due(DAY, PriorityClass.P3), None)

        assert due.reason.code == "after_repair"

    def test_never_passes_the_limit(self) -> None:
        limit = DAY + timedelta(days=30)

        due = earliest(routine_due(DAY, Method.AIR, Criticality.B), latest_on=limit)

        assert (due.on, due.reason.code) == (limit, "limit")

    def test_refuses_to_invent_a_day(self) -> None:
        with pytest.raises(ValueError, match="No rule"):
            earliest(None)
