"""How quiet visits stretch the routine and what was found draws it in."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.plant.rules import Criticality, read_windows, runs_on
from workorders.verification.rules import (
    Method,
    look_again_due,
    on_a_fitting_day,
    pace_of,
    paced_due,
    routine_due,
)
from workorders.verification.rules.pace import LONGEST_STEP, PACES

LAST = date(2026, 3, 2)
VISITS = st.lists(st.booleans(), max_size=20)
METHODS, CRITICALITIES = st.sampled_from(Method), st.sampled_from(Criticality)


class TestPaceOf:
    @pytest.mark.parametrize(
        ("visits", "pace"),
        [
            ([], 0),
            ([True, True], 0),
            ([True] * 3, 1),
            ([True] * 5, 1),
            ([True] * 6, 2),
            ([True] * 60, 2),
            ([True] * 6 + [False], 0),
            ([True] * 6 + [False, True, True], 0),
            ([True, True, False, True], 0),
        ],
    )
    def test_takes_three_quiet_visits_up_and_one_other_all_the_way_down(
        self, visits: list[bool], pace: int
    ) -> None:
        assert pace_of(visits, Method.AIR, Criticality.B) == pace

    def test_is_bounded_for_what_matters_most(self) -> None:
        assert pace_of([True] * 60, Method.BEARING, Criticality.A) == 1

    @pytest.mark.parametrize("method", [Method.FUEL_GAS, Method.ELECTRICAL])
    def test_never_slows_for_what_can_kill(self, method: Method) -> None:
        assert pace_of([True] * 60, method, Criticality.C) == 0

    @given(VISITS, METHODS, CRITICALITIES, st.data())
    def test_one_visit_more_that_was_quiet_never_makes_it_faster(
        self, visits: list[bool], method: Method, criticality: Criticality, data: st.DataObject
    ) -> None:
        place = data.draw(st.integers(0, max(len(visits) - 1, 0)))
        quieter = [*visits[:place], True, *visits[place + 1 :]]

        assert pace_of(quieter, method, criticality) >= pace_of(visits, method, criticality)


class TestPacedDue:
    def test_is_the_usual_day_without_any_visits(self) -> None:
        given_ = (LAST, Method.AIR, Criticality.B)

        assert paced_due(*given_, []) == routine_due(*given_)

    def test_says_how_much_longer_it_is(self) -> None:
        due = paced_due(LAST, Method.AIR, Criticality.B, [True] * 3)

        assert due.on == LAST + timedelta(days=276)
        assert due.reason.text.endswith("every 6 months, 1.5 times as long after quiet visits.")

    @given(VISITS, METHODS, CRITICALITIES)
    def test_is_never_sooner_than_usual_nor_past_its_bounds(
        self, visits: list[bool], method: Method, criticality: Criticality
    ) -> None:
        usual = routine_due(LAST, method, criticality).on - LAST

        step = paced_due(LAST, method, criticality, visits).on - LAST

        assert usual <= step <= min(usual * int(max(PACES)), max(usual, LONGEST_STEP))


def test_a_condition_counts_from_the_last_look() -> None:
    due = look_again_due(LAST, 7)

    assert (due.on, due.reason.code) == (date(2026, 3, 9), "condition")


class TestOnAFittingDay:
    DUE = look_again_due(LAST, 13)  # Sunday, 15 March

    def test_is_the_day_itself_where_it_fits(self) -> None:
        assert on_a_fitting_day(self.DUE, lambda _: True, after=LAST) == self.DUE.on

    def test_is_the_last_one_before_on_which_the_machine_runs(self) -> None:
        windows = read_windows([{"days": [0, 1, 2], "start": "06:00", "end": "14:00"}])

        day = on_a_fitting_day(self.DUE, lambda one: runs_on(windows, one), after=LAST)

        assert day == date(2026, 3, 11)

    def test_is_the_day_itself_where_none_of_the_week_fits(self) -> None:
        assert on_a_fitting_day(self.DUE, lambda _: False, after=LAST) == self.DUE.on

    def test_asks_the_next_test_where_the_first_is_met_by_no_day(self) -> None:
        tests = [lambda _: False, lambda day: day.weekday() == 4]

        assert on_a_fitting_day(self.DUE, *tests, after=LAST) == date(2026, 3, 13)

    def test_never_falls_on_the_last_visit_or_before(self) -> None:
        due = look_again_due(LAST, 2)

        assert on_a_fitting_day(due, lambda day: day <= LAST, after=LAST) == due.on

    @given(st.integers(1, 400), st.sets(st.integers(0, 6)))
    def test_is_never_late(self, days: int, weekdays: set[int]) -> None:
        due = look_again_due(LAST, days)

        found = on_a_fitting_day(due, lambda day: day.weekday() in weekdays, after=LAST)

        assert LAST < found <= due.on


class TestRunsOn:
    @pytest.mark.parametrize(("day", "runs"), [(6, True), (7, True), (8, False), (5, False)])
    def test_counts_the_morning_after_a_night_shift(self, day: int, runs: bool) -> None:
        windows = read_windows([{"days": [4], "start": "22:00", "end": "06:00"}])

        assert runs_on(windows, date(2026, 3, day)) is runs

    def test_is_every_day_without_windows(self) -> None:
        assert runs_on([], LAST)
