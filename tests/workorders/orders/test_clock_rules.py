"""How much of a promised time is used, and what may hold it."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workorders.calendars.rules import Week, WorkingCalendar, shifts_of
from workorders.orders.rules import (
    Clock,
    ClockReading,
    ClockState,
    PriorityClass,
    Promise,
    Span,
    Stop,
    Unit,
    WaitReason,
    add_span,
    default_pauses,
    granted,
    pause_fault,
    read_clock,
)

BERLIN = ZoneInfo("Europe/Berlin")
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
OFFICE = WorkingCalendar(
    BERLIN,
    (
        Week(
            date(2020, 1, 1),
            shifts_of([{"days": ["mon", "tue", "wed", "thu", "fri"], "start": "08:00", "end": "16:00"}]),
        ),
    ),
)
MONDAY = datetime(2026, 3, 23, 8, tzinfo=BERLIN)
"""Of the week before the clock is put forward."""


def promised(amount: int = 40 * 60, unit: Unit = Unit.WORKING_MINUTES, **values: object) -> Promise:
    """A repair promised on Monday at eight."""
    due = add_span(MONDAY, Span(amount, unit), OFFICE)
    return Promise(Clock.REPAIR, unit, amount, MONDAY, due, **values)  # type: ignore[arg-type]


def read(
    at: datetime, *waits: Stop, deferrals: tuple[Stop, ...] = (), promise: Promise | None = None
) -> ClockReading:
    return read_clock(promise or promised(), waits, deferrals, at, OFFICE)


class TestShare:
    def test_of_working_time_stands_still_at_night(self) -> None:
        evening, morning = MONDAY + 9 * HOUR, MONDAY + 24 * HOUR

        assert read(evening).share == read(morning).share == Decimal("0.2")

    @pytest.mark.parametrize("unit", list(Unit))
    def test_is_one_at_the_due_time_and_not_before(self, unit: Unit) -> None:
        promise = promised(3 if unit is Unit.DAYS else 100, unit)

        readings = [read(promise.due_at + step, promise=promise) for step in (-MINUTE, 0 * MINUTE, MINUTE)]

        assert [(one.share >= 1, one.breached_at is not None) for one in readings] == [
            (False, False),
            (True, False),
            (True, True),
        ]

    @given(
        st.sampled_from(list(Unit)),
        st.integers(1, 20),
        st.lists(st.tuples(st.integers(0, 20_000), st.integers(0, 9_000)), max_size=3),
        st.integers(0, 30_000),
        st.integers(0, 30_000),
    )
    @settings(max_examples=120, deadline=None)
    def test_never_falls_and_breaches_stay(
        self, unit: Unit, amount: int, deferred: list[tuple[int, int]], first: int, more: int
    ) -> None:
        promise = promised(amount * (1 if unit is Unit.DAYS else 60), unit)
        stops = tuple(
            Stop(MONDAY + begin * MINUTE, MONDAY + (begin + lasts) * MINUTE, "deferred")
            for begin, lasts in deferred
        )
        at = MONDAY + first * MINUTE

        earlier, later = (
            read(moment, deferrals=stops, promise=promise) for moment in (at, at + more * MINUTE)
        )

        assert earlier.used <= later.used
        assert earlier.breached_at is None or later.breached_at == earlier.breached_at


class TestPause:
    WAIT = Stop(MONDAY + 4 * HOUR, None, "parts: seal kit", "P. Kern")

    def test_holds_the_clock_where_it_was(self) -> None:
        readings = [read(MONDAY + hours * HOUR, self.WAIT) for hours in (4, 30, 300)]

        assert [(one.used, one.share, one.state) for one in readings] == [
            (4 * HOUR, Decimal("0.1"), ClockState.PAUSED)
        ] * 3

    @pytest.mark.parametrize("until", [None, MONDAY + 700 * HOUR])
    def test_holds_the_used_share_where_it_was(self, until: datetime | None) -> None:
        stop = Stop(self.WAIT.start, None, "parts", until=until)

        shares = [
            one.share
            for hours in (4, 30, 300)
            for one in (read(MONDAY + hours * HOUR, stop), read(MONDAY + hours * HOUR, deferrals=(stop,)))
        ]

        assert shares == [Decimal("0.1")] * 6

    def test_says_since_when_why_and_by_whom(self) -> None:
        reading = read(MONDAY + 30 * HOUR, self.WAIT)

        assert (reading.paused_since, reading.paused_why, reading.paused_by) == (
            self.WAIT.start,
            "parts: seal kit",
            "P. Kern",
        )

    def test_moves_the_due_time_with_it(self) -> None:
        assert read(MONDAY + 28 * HOUR, self.WAIT).due_at == datetime(2026, 3, 30, 16, tzinfo=BERLIN)

    def test_begun_after_the_end_heals_nothing(self) -> None:
        late = Stop(promised().due_at + HOUR, None, "parts")

        reading = read(promised().due_at + 3 * HOUR, late)

        assert (reading.state, reading.late) == (ClockState.RUNNING, 3 * HOUR)

    def test_holds_no_longer_than_until_its_limit(self) -> None:
        wait = Stop(MONDAY, None, "shutdown", until=MONDAY + 2 * HOUR)

        assert read(MONDAY + 5 * HOUR, wait).used == 3 * HOUR

    def test_by_deferral_and_wait_at_once_counts_once(self) -> None:
        wait = Stop(MONDAY + HOUR, None, "parts")
        deferral = Stop(MONDAY, MONDAY + 3 * HOUR, "deferred")

        reading = read(MONDAY + 5 * HOUR, wait, deferrals=(deferral,), promise=promised(100, Unit.HOURS))

        assert (reading.used, reading.due_at) == (timedelta(0), MONDAY + 105 * HOUR)

    def test_ends_with_what_was_met(self) -> None:
        met = promised(met_at=MONDAY + 6 * HOUR)

        assert read(MONDAY + 90 * HOUR, promise=met).state is ClockState.MET


class TestTable:
    def test_a_danger_to_people_is_never_waited_out(self) -> None:
        held = granted(
            WaitReason.SHUTDOWN,
            frozenset({Clock.REPAIR}),
            priority=PriorityClass.P1,
            is_safety=True,
            shutdown_ends_at=MONDAY,
        )

        assert held.clocks == frozenset()

    @pytest.mark.parametrize(("ends_at", "clocks"), [(None, set()), (MONDAY, {Clock.REPAIR})])
    def test_a_safety_order_waits_for_a_shutdown_that_is_recorded(
        self, ends_at: datetime | None, clocks: set[Clock]
    ) -> None:
        # 40 CFR 60.482-9(a): delay of repair to the end of the next process unit shutdown.
        held = granted(
            WaitReason.SHUTDOWN,
            frozenset({Clock.REPAIR}),
            priority=PriorityClass.P2,
            is_safety=True,
            shutdown_ends_at=ends_at,
        )

        assert (set(held.clocks), held.until) == (clocks, ends_at)

    @pytest.mark.parametrize("reason", [one for one in WaitReason if one is not WaitReason.SHUTDOWN])
    def test_a_site_grants_safety_nothing_else(self, reason: WaitReason) -> None:
        assert pause_fault(reason, frozenset({Clock.REPAIR}), for_safety=True)

    def test_a_first_answer_never_waits(self) -> None:
        assert pause_fault(WaitReason.PARTS, frozenset({Clock.ACKNOWLEDGE}), for_safety=False)

    def test_what_the_site_itself_gives_stops_nothing(self) -> None:
        assert not default_pauses(WaitReason.PERMIT, for_safety=False)
