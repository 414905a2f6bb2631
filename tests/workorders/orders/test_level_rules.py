"""When a step is due by the site's own clock."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workorders.calendars.rules import DayKind, SiteDays, Week, WorkingCalendar, shifts_of
from workorders.orders.rules import (
    DEFAULT_LEVELS,
    DEFAULT_TIMES,
    Clock,
    Pause,
    PriorityClass,
    Span,
    Times,
    Unit,
    add_span,
    due_at,
    extend,
    faults_of,
    is_paused,
    level_of,
    put_off,
)

BERLIN = ZoneInfo("Europe/Berlin")
CHICAGO = ZoneInfo("America/Chicago")
KATHMANDU = ZoneInfo("Asia/Kathmandu")
LORD_HOWE = ZoneInfo("Australia/Lord_Howe")
STEP = timedelta(days=14)
HOUR = timedelta(hours=1)


def working(zone: ZoneInfo = BERLIN, *days: SiteDays, names: str = "mon tue wed thu fri") -> WorkingCalendar:
    """A site that works from six to two."""
    shifts = shifts_of([{"days": names.split(), "start": "06:00", "end": "14:00"}])
    return WorkingCalendar(zone, (Week(date(2020, 1, 1), shifts),), days)


def at(zone: ZoneInfo, year: int, month: int, day: int, hour: int = 0, minute: int = 0) -> datetime:
    return datetime(year, month, day, hour, minute, tzinfo=zone)


class TestAddSpan:
    @pytest.mark.parametrize("zone", [BERLIN, CHICAGO, KATHMANDU, LORD_HOWE], ids=str)
    @pytest.mark.parametrize("month", [3, 4, 10, 11])
    def test_days_keep_the_time_of_day(self, zone: ZoneInfo, month: int) -> None:
        due = add_span(at(zone, 2026, month, 1, 9, 30), Span(15, Unit.DAYS), working(zone)).astimezone(zone)

        assert (due.day, due.hour, due.minute) == (16, 9, 30)

    def test_hours_elapse_across_the_change(self) -> None:
        due = add_span(at(BERLIN, 2026, 3, 28, 9), Span(24, Unit.HOURS), working())

        assert due.astimezone(BERLIN).hour == 10

    def test_a_time_the_day_lacks_is_an_hour_later(self) -> None:
        due = add_span(at(BERLIN, 2026, 3, 28, 2, 30), Span(1, Unit.DAYS), working())

        assert due.astimezone(BERLIN).replace(tzinfo=None) == datetime(2026, 3, 29, 3, 30)  # noqa: DTZ001

    def test_a_time_the_day_has_twice_is_its_first(self) -> None:
        due = add_span(at(BERLIN, 2026, 10, 24, 2, 30), Span(1, Unit.DAYS), working())

        assert due == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)

    def test_working_time_skips_the_weekend_and_closed_days(self) -> None:
        closed = SiteDays(DayKind.CLOSED, date(2025, 6, 9), date(2025, 6, 9), "Whit Monday")

        due = add_span(at(BERLIN, 2025, 6, 5, 13), Span(600, Unit.WORKING_MINUTES), working(BERLIN, closed))

        assert due == at(BERLIN, 2025, 6, 10, 7)

    def test_working_time_elapses_where_nobody_ever_works(self) -> None:
        empty = WorkingCalendar(BERLIN, (Week(date(2020, 1, 1), ()),))

        due = add_span(at(BERLIN, 2025, 6, 5, 13), Span(60, Unit.WORKING_MINUTES), empty)

        assert due == at(BERLIN, 2025, 6, 5, 14)

    @given(st.integers(0, 15 * 365 * 24 * 4), st.integers(0, 400))
    def test_one_day_more_is_always_later(self, quarters: int, days: int) -> None:
        start = datetime(2020, 1, 1, tzinfo=UTC) + timedelta(minutes=15 * quarters)

        one = add_span(start, Span(days, Unit.DAYS), working(CHICAGO))

        assert one < add_span(start, Span(days + 1, Unit.DAYS), working(CHICAGO))

    @pytest.mark.parametrize("amount", [-1, 3_651])
    def test_refuses_a_length_that_makes_no_sense(self, amount: int) -> None:
        with pytest.raises(ValueError, match="ten years"):
            Span(amount, Unit.DAYS)


class TestDefaults:
    @pytest.mark.parametrize(
        ("priority", "clock", "length"),
        [
            ("P1", "acknowledge", timedelta(minutes=15)),
            ("P1", "make_safe", timedelta(hours=1)),
            ("P1", "first_attempt", timedelta(hours=4)),
            ("P1", "repair", timedelta(hours=24)),
            ("P2", "acknowledge", timedelta(hours=4)),
            ("P2", "first_attempt", timedelta(days=5)),
            ("P2", "repair", timedelta(days=15)),
            ("P2", "verify", timedelta(days=7)),
            ("P3", "acknowledge", timedelta(days=2)),
            ("P3", "repair", timedelta(days=30)),
            ("P4", "acknowledge", timedelta(days=7)),
            ("P4", "repair", timedelta(days=90)),
            ("P4", "verify", timedelta(days=30)),
        ],
    )
    def test_from_a_monday_morning(self, priority: str, clock: str, length: timedelta) -> None:
        monday = datetime(2025, 6, 2, 6, tzinfo=UTC)

        assert (
            due_at(DEFAULT_LEVELS[PriorityClass(priority)], Clock(clock), monday, working())
            == monday + length
        )

    def test_only_the_first_class_has_a_clock_to_make_safe(self) -> None:
        clocks = [level.make_safe is not None for level in DEFAULT_LEVELS.values()]

        assert clocks == [True, False, False, False]


class TestShutdown:
    START = at(BERLIN, 2025, 6, 2, 6)

    def found(self, priority: PriorityClass, shutdown: datetime) -> datetime | None:
        return due_at(
            DEFAULT_LEVELS[priority], Clock.REPAIR, self.START, working(), next_shutdown_at=shutdown
        )

    def test_an_earlier_one_sets_the_due_time_of_small_work(self) -> None:
        shutdown = at(BERLIN, 2025, 8, 11, 6)

        assert self.found(PriorityClass.P4, shutdown) == shutdown

    def test_a_later_one_lengthens_nothing(self) -> None:
        assert self.found(PriorityClass.P4, at(BERLIN, 2026, 8, 11)) == at(BERLIN, 2025, 8, 31, 6)

    def test_other_classes_do_not_wait_for_it(self) -> None:
        assert self.found(PriorityClass.P3, at(BERLIN, 2025, 6, 20)) == at(BERLIN, 2025, 7, 2, 6)


class TestPause:
    DUE = at(BERLIN, 2025, 6, 11)

    def test_moves_the_due_time_by_its_length(self) -> None:
        pause = Pause(at(BERLIN, 2025, 6, 6), at(BERLIN, 2025, 6, 20))

        assert extend(self.DUE, [pause], BERLIN) == at(BERLIN, 2025, 6, 25)

    def test_counts_once_where_two_overlap(self) -> None:
        pauses = [
            Pause(at(BERLIN, 2025, 6, 6), at(BERLIN, 2025, 6, 20)),
            Pause(at(BERLIN, 2025, 6, 8), at(BERLIN, 2025, 6, 12)),
        ]

        assert extend(self.DUE, pauses, BERLIN) == at(BERLIN, 2025, 6, 25)

    def test_begun_after_the_end_heals_nothing(self) -> None:
        pause = Pause(at(BERLIN, 2025, 6, 11), at(BERLIN, 2025, 6, 20))

        assert extend(self.DUE, [pause], BERLIN) == self.DUE

    def test_keeps_the_time_of_day_across_the_change(self) -> None:
        due = at(BERLIN, 2026, 3, 25, 8)
        pause = Pause(at(BERLIN, 2026, 3, 20, 8), at(BERLIN, 2026, 4, 3, 8))

        assert extend(due, [pause], BERLIN) == at(BERLIN, 2026, 4, 8, 8)

    @pytest.mark.parametrize(
        ("now", "paused"),
        [(DUE - STEP, False), (DUE, True), (DUE + STEP, False)],
    )
    def test_is_over_when_it_has_expired(self, now: datetime, paused: bool) -> None:
        assert is_paused([Pause(self.DUE, self.DUE + STEP)], now) is paused


class TestTimes:
    @pytest.mark.parametrize("priority", list(PriorityClass))
    def test_of_the_default_have_no_fault(self, priority: PriorityClass) -> None:
        assert faults_of(priority, DEFAULT_TIMES[priority]) == ()

    @pytest.mark.parametrize("priority", list(PriorityClass))
    def test_of_the_default_give_the_default_repair(self, priority: PriorityClass) -> None:
        start = at(BERLIN, 2025, 6, 2, 6)
        levels = (level_of(priority, DEFAULT_TIMES[priority]), DEFAULT_LEVELS[priority])

        dues = {due_at(level, Clock.REPAIR, start, working()) for level in levels}

        assert len(dues) == 1

    @pytest.mark.parametrize("priority", ["P1", "P2"])
    def test_of_hazard_classes_are_never_lengthened(self, priority: str) -> None:
        longer = Times(Span(200, Unit.HOURS), Span(60, Unit.DAYS), Span(60, Unit.DAYS))

        faults = faults_of(PriorityClass(priority), longer)

        assert [clock for clock, _ in faults] == ["respond", "repair", "verify"]

    def test_of_hazard_classes_run_day_and_night(self) -> None:
        times = DEFAULT_TIMES[PriorityClass.P1]

        faults = faults_of(
            PriorityClass.P1, Times(times.respond, Span(60, Unit.WORKING_MINUTES), times.verify)
        )

        assert [clock for clock, _ in faults] == ["repair"]

    def test_of_a_safety_order_run_day_and_night(self) -> None:
        level = level_of(PriorityClass.P3, DEFAULT_TIMES[PriorityClass.P3], is_safety=True)

        assert level.acknowledge == Span(960, Unit.MINUTES)

    def test_of_other_classes_are_the_sites_to_choose(self) -> None:
        longer = Times(Span(200, Unit.HOURS), Span(60, Unit.DAYS), Span(60, Unit.DAYS))

        assert faults_of(PriorityClass.P3, longer) == ()

    def test_of_a_repair_are_not_nothing(self) -> None:
        none = Times(Span(1, Unit.HOURS), Span(0, Unit.DAYS), Span(1, Unit.DAYS))

        assert faults_of(PriorityClass.P3, none)[0][0] == "repair"


class TestPutOff:
    FRIDAY = at(BERLIN, 2025, 6, 6, 12)

    def test_leaves_as_much_working_time_as_was_left(self) -> None:
        # Two working hours are left on Friday; the wait ends on Tuesday at ten.
        pause = Pause(self.FRIDAY, at(BERLIN, 2025, 6, 10, 10))

        due = put_off(at(BERLIN, 2025, 6, 6, 14), pause, Unit.WORKING_MINUTES, working())

        assert due == at(BERLIN, 2025, 6, 10, 12)

    def test_adds_what_elapsed(self) -> None:
        pause = Pause(self.FRIDAY, self.FRIDAY + 30 * HOUR)

        assert put_off(self.FRIDAY + HOUR, pause, Unit.HOURS, working()) == self.FRIDAY + 31 * HOUR

    def test_heals_nothing_that_is_broken(self) -> None:
        pause = Pause(self.FRIDAY, self.FRIDAY + 30 * HOUR)

        assert put_off(self.FRIDAY, pause, Unit.WORKING_MINUTES, working()) == self.FRIDAY

    @given(st.integers(0, 20_000), st.integers(0, 20_000), st.integers(1, 6_000), st.sampled_from(list(Unit)))
    def test_is_never_earlier(self, begins: int, lasts: int, left: int, unit: Unit) -> None:
        start = at(BERLIN, 2026, 3, 20) + timedelta(minutes=begins)
        due = add_span(
            at(BERLIN, 2026, 3, 20), Span(left, unit if unit is not Unit.DAYS else Unit.HOURS), working()
        )
        pause = Pause(start, start + timedelta(minutes=lasts))

        assert put_off(due, pause, unit, working()) >= due
