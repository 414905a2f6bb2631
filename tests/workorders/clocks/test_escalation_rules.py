"""How far ageing work has climbed."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.plant.rules import Role
from workorders.clocks.rules import (
    DEFAULT_STEPS,
    EscalationStep,
    escalation_step,
    is_reached_by_share,
    reason_of,
)

FOUND_AT = datetime(2025, 6, 2, 6, tzinfo=UTC)
DUE_AT = FOUND_AT + timedelta(days=30)


class TestEscalationStep:
    @pytest.mark.parametrize(
        ("days", "step"),
        [(0, 0), (14.99, 0), (15, 1), (24, 2), (29.99, 2), (30, 3), (44.99, 3), (45, 4), (500, 4)],
    )
    def test_climbs_with_the_share_of_the_clock(self, days: float, step: int) -> None:
        assert escalation_step(FOUND_AT, DUE_AT, FOUND_AT + timedelta(days=days)) == step

    def test_climbs_by_age_though_the_clock_is_long(self) -> None:
        due_at = FOUND_AT + timedelta(days=3000)

        assert escalation_step(FOUND_AT, due_at, FOUND_AT + timedelta(days=120)) == 4

    def test_climbs_by_money_lost_before_its_time(self) -> None:
        now = FOUND_AT + timedelta(days=1)

        assert escalation_step(FOUND_AT, DUE_AT, now, lost=Decimal(2500)) == 4

    def test_a_moment_before_it_was_found_tells_nobody(self) -> None:
        assert escalation_step(FOUND_AT, DUE_AT, FOUND_AT - timedelta(days=1)) == 0

    def test_uses_the_sites_own_steps(self) -> None:
        steps = [EscalationStep(Role.MANAGER, share=Decimal("0.1"))]

        assert escalation_step(FOUND_AT, DUE_AT, FOUND_AT + timedelta(days=3), steps=steps) == 1

    def test_refuses_a_clock_that_ends_before_it_begins(self) -> None:
        with pytest.raises(ValueError, match="before it begins"):
            escalation_step(DUE_AT, FOUND_AT, DUE_AT)

    def test_half_a_day_across_the_change_is_half_its_elapsed_hours(self) -> None:
        zone = ZoneInfo("Europe/Berlin")
        marks = [datetime(2026, 3, day, hour, tzinfo=zone) for day, hour in ((29, 0), (30, 0), (29, 12))]

        assert [
            escalation_step(marks[0], marks[1], mark) for mark in (marks[2], marks[2].replace(hour=13))
        ] == [0, 1]

    @given(st.timedeltas(timedelta(0), timedelta(days=400)), st.timedeltas(timedelta(0), timedelta(days=400)))
    def test_never_climbs_down_as_time_goes_by(self, one: timedelta, other: timedelta) -> None:
        early, late = sorted((one, other))

        assert escalation_step(FOUND_AT, DUE_AT, FOUND_AT + early) <= escalation_step(
            FOUND_AT, DUE_AT, FOUND_AT + late
        )


def test_the_last_step_reaches_the_manager() -> None:
    assert DEFAULT_STEPS[-1].to_role is Role.MANAGER


class TestReasonOf:
    STEP = DEFAULT_STEPS[0]

    @pytest.mark.parametrize(
        ("share", "growth", "said"),
        [
            ("0.5", "", "50% of the time allowed is used up."),
            ("0.4", "", "A later step was reached first."),
            ("0.4", "condition", "Its condition is worse than at the last step."),
            ("0.5", "condition", "50% of the time allowed is used up."),
        ],
    )
    def test_takes_the_share_of_a_clock_that_was_read(self, share: str, growth: str, said: str) -> None:
        late = DUE_AT + timedelta(days=1)

        assert reason_of(self.STEP, FOUND_AT, DUE_AT, late, share=Decimal(share), growth=growth) == said

    def test_says_what_grew_before_its_time(self) -> None:
        told = reason_of(self.STEP, FOUND_AT, DUE_AT, FOUND_AT, growth="rate")

        assert told == "It leaks 1.5 times as much as at the last step, or more."


class TestIsReachedByShare:
    @pytest.mark.parametrize(
        ("number", "share", "days", "reached"),
        [
            (1, "0.5", 0, True),
            (2, "0.5", 0, False),
            (1, "0.9", 0, True),
            (4, "0", 119, False),
            (1, "0", 120, True),
        ],
    )
    def test_counts_the_later_steps_too(self, number: int, share: str, days: int, reached: bool) -> None:
        age = timedelta(days=days)

        assert is_reached_by_share(number, DEFAULT_STEPS, share=Decimal(share), age=age) is reached
