"""How the pages tell a clock."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from workorders.desk.rules.clocks import clock_told, name_of
from workorders.orders.rules import Clock, ClockReading, ClockState, Unit

START = datetime(2026, 3, 2, 8, tzinfo=UTC)
HOUR = timedelta(hours=1)
RUNNING = ClockReading(
    clock=Clock.REPAIR,
    unit=Unit.WORKING_MINUTES,
    amount=2_400,
    state=ClockState.RUNNING,
    started_at=START,
    due_at=START + 100 * HOUR,
    used=12 * HOUR,
    allowed=40 * HOUR,
    share=Decimal("0.3"),
)


class TestClockTold:
    def test_counts_working_hours(self) -> None:
        assert clock_told(RUNNING, "UTC").startswith("12 of 40 working hours used, due ")

    def test_says_since_when_and_why_it_is_paused(self) -> None:
        paused = replace(
            RUNNING,
            state=ClockState.PAUSED,
            paused_since=START + HOUR,
            paused_why="parts: seal kit",
            paused_by="P. Kern",
        )

        told = clock_told(paused, "UTC")

        assert "paused since" in told
        assert told.endswith("by P. Kern, waiting for parts (seal kit)")

    def test_says_by_how_much_it_ran_out(self) -> None:
        late = replace(RUNNING, used=50 * HOUR, breached_at=START, late=30 * HOUR)

        told = clock_told(late, "UTC")

        assert told.startswith("40 working hours, all used")
        assert told.endswith("30 hours late")

    @pytest.mark.parametrize(
        ("unit", "allowed", "told"),
        [(Unit.DAYS, 15 * 24 * HOUR, "0.5 of 15 days"), (Unit.MINUTES, HOUR / 4, "15 minutes, all used")],
    )
    def test_takes_the_unit_that_reads_well(self, unit: Unit, allowed: timedelta, told: str) -> None:
        assert clock_told(replace(RUNNING, unit=unit, allowed=allowed), "UTC").startswith(told)

    def test_names_what_is_waited_for(self) -> None:
        assert name_of(RUNNING) == "repair"
