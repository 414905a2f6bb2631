"""Working time against a clock that walks minute by minute, through every kind of clock change."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workorders.calendars.rules import (
    DayKind,
    NoWorkingTime,
    SiteDays,
    Week,
    WorkingCalendar,
    add_working_time,
    next_working_moment,
    shifts_of,
    working_between,
)

WORKDAYS = ["mon", "tue", "wed", "thu", "fri"]
DAYS_AND_NIGHTS = shifts_of(
    [
        {"days": [*WORKDAYS, "sat"], "start": "06:00", "end": "14:30"},
        {"days": [*WORKDAYS, "sat"], "start": "14:00", "end": "22:00"},
        {"days": [*WORKDAYS, "sun"], "start": "22:00", "end": "06:00"},
    ]
)
OFFICE = shifts_of([{"days": WORKDAYS, "start": "08:00", "end": "16:00"}])
NIGHTS = shifts_of([{"days": [*WORKDAYS, "sat", "sun"], "start": "22:00", "end": "06:00"}])
# Europe; half an hour of summer time, in the south; the south again; a quarter-hour offset; the north west;
# a zone whose clock changes at midnight, so that the day begins at one o'clock.
ZONES = [
    "Europe/Berlin",
    "Australia/Lord_Howe",
    "Pacific/Auckland",
    "Asia/Kathmandu",
    "America/St_Johns",
    "America/Santiago",
]
MINUTE = timedelta(minutes=1)


def calendar(zone: str = "Europe/Berlin", shifts: object = DAYS_AND_NIGHTS) -> WorkingCalendar:
    """A calendar of one week, a shutdown and a worked Sunday around both clock changes of 2026."""
    return WorkingCalendar(
        ZoneInfo(zone),
        (Week(date(2020, 1, 1), shifts, "DE", "BW"),),  # type: ignore[arg-type]
        (
            SiteDays(DayKind.SHUTDOWN, date(2026, 4, 7), date(2026, 4, 9), "spring clean"),
            SiteDays(DayKind.WORKED, date(2026, 10, 4), date(2026, 10, 4), "stocktaking", OFFICE_ALL_WEEK),
            SiteDays(DayKind.CLOSED, date(2026, 10, 26), date(2026, 10, 26), "fair"),
        ),
    )


OFFICE_ALL_WEEK = shifts_of([{"days": [*WORKDAYS, "sat", "sun"], "start": "08:00", "end": "16:00"}])


class Walker:
    """Judges each minute alone from the wall clock there; knows nothing of the rules but their words."""

    PUBLIC = {
        date(2026, 4, 3), date(2026, 4, 6), date(2026, 5, 1),
        date(2026, 10, 3), date(2026, 11, 1),
    }  # fmt: skip
    """Baden-Württemberg: Feiertagsgesetz (FTG) section 1, with Easter 2026 on 5 April."""

    def __init__(self, zone: str, kind: str) -> None:
        self.zone = ZoneInfo(zone)
        self.kind = kind

    def is_on(self, moment: datetime) -> bool:
        wall = moment.astimezone(self.zone)
        day, minute = wall.date(), wall.hour * 60 + wall.minute
        before = day - timedelta(days=1)
        return self._begun(day, minute) or self._begun(before, minute + 1440)

    def _begun(self, day: date, minute: int) -> bool:
        if day in {date(2026, 4, 7), date(2026, 4, 8), date(2026, 4, 9), date(2026, 10, 26)}:
            return False
        if day == date(2026, 10, 4):
            return 480 <= minute < 960
        if day in self.PUBLIC:
            return False
        number = day.weekday()
        if self.kind == "office":
            return number < 5 and 480 <= minute < 960
        if self.kind == "nights":
            return 1320 <= minute < 1800
        early_or_late = number < 6 and 360 <= minute < 1320
        return early_or_late or (number != 5 and 1320 <= minute < 1800)

    def between(self, start: datetime, end: datetime) -> timedelta:
        count, moment = 0, start
        while moment < end:
            count += self.is_on(moment)
            moment += MINUTE
        return count * MINUTE


KINDS = {"office": OFFICE, "nights": NIGHTS, "both": DAYS_AND_NIGHTS}
# Weeks around the clock changes of 2026 in the zones above, Easter and the first of May among them.
starts = st.sampled_from([datetime(2026, 3, 6, tzinfo=UTC), datetime(2026, 4, 2, tzinfo=UTC),
                          datetime(2026, 9, 4, tzinfo=UTC), datetime(2026, 9, 25, tzinfo=UTC),
                          datetime(2026, 10, 23, tzinfo=UTC)])  # fmt: skip
moments = st.builds(lambda base, minutes: base + minutes * MINUTE, starts, st.integers(0, 5 * 1440))
zones = st.sampled_from(ZONES)
kinds = st.sampled_from(sorted(KINDS))


class TestAgainstTheWalk:
    @given(zones, kinds, moments, st.integers(0, 4 * 1440))
    @settings(max_examples=60, deadline=None)
    def test_between_counts_the_same_minutes(
        self, zone: str, kind: str, start: datetime, length: int
    ) -> None:
        end = start + length * MINUTE

        found = working_between(calendar(zone, KINDS[kind]), start, end)

        assert found == Walker(zone, kind).between(start, end)

    @given(zones, kinds, moments)
    @settings(max_examples=60, deadline=None)
    def test_the_next_working_moment_is_the_first_minute_that_is_on(
        self, zone: str, kind: str, start: datetime
    ) -> None:
        walker, moment = Walker(zone, kind), start
        while not walker.is_on(moment):
            moment += MINUTE

        assert next_working_moment(calendar(zone, KINDS[kind]), start) == moment


class TestProperties:
    @given(zones, kinds, moments, st.integers(0, 200 * 3600), st.integers(0, 999_999))
    @settings(max_examples=150, deadline=None)
    def test_adding_then_asking_between_gives_it_back(
        self, zone: str, kind: str, start: datetime, seconds: int, micro: int
    ) -> None:
        plan, length = calendar(zone, KINDS[kind]), timedelta(seconds=seconds, microseconds=micro)

        assert working_between(plan, start, add_working_time(plan, start, length)) == length

    @given(zones, kinds, moments, st.integers(0, 9_000), st.integers(1, 9_000))
    @settings(max_examples=100, deadline=None)
    def test_more_work_ends_later(self, zone: str, kind: str, start: datetime, less: int, more: int) -> None:
        plan = calendar(zone, KINDS[kind])

        first = add_working_time(plan, start, less * MINUTE)

        assert first < add_working_time(plan, start, (less + more) * MINUTE)

    @given(zones, kinds, moments, st.integers(0, 9_000), st.integers(0, 9_000))
    @settings(max_examples=100, deadline=None)
    def test_a_later_start_never_ends_earlier(
        self, zone: str, kind: str, start: datetime, later: int, work: int
    ) -> None:
        plan = calendar(zone, KINDS[kind])

        first = add_working_time(plan, start, work * MINUTE)

        assert first <= add_working_time(plan, start + later * MINUTE, work * MINUTE)

    @given(zones, kinds, moments, st.integers(0, 6_000), st.integers(0, 6_000))
    @settings(max_examples=100, deadline=None)
    def test_parts_add_up(self, zone: str, kind: str, start: datetime, first: int, second: int) -> None:
        plan, middle = calendar(zone, KINDS[kind]), start + first * MINUTE
        end = middle + second * MINUTE

        parts = working_between(plan, start, middle) + working_between(plan, middle, end)

        assert parts == working_between(plan, start, end)


class TestNights:
    @pytest.mark.parametrize(
        ("begins", "hours"), [((2026, 3, 28), 7), ((2026, 10, 24), 9), ((2026, 6, 13), 8)]
    )
    def test_last_as_long_as_the_clock_lets_them(self, begins: tuple[int, int, int], hours: int) -> None:
        noon = datetime(*begins, 12, tzinfo=ZoneInfo("Europe/Berlin"))

        found = working_between(calendar(shifts=NIGHTS), noon, noon + timedelta(hours=24))

        assert found == timedelta(hours=hours)

    def test_of_the_eve_go_on_into_a_holiday(self) -> None:
        berlin = ZoneInfo("Europe/Berlin")
        midnight, morning = datetime(2026, 5, 1, tzinfo=berlin), datetime(2026, 5, 1, 12, tzinfo=berlin)

        assert working_between(calendar(shifts=NIGHTS), midnight, morning) == timedelta(hours=6)


class TestLimits:
    def test_no_time_stays_where_it_is(self) -> None:
        sunday = datetime(2026, 6, 14, 10, tzinfo=UTC)

        assert add_working_time(calendar(shifts=OFFICE), sunday, timedelta(0)) == sunday

    def test_backwards_there_is_none(self) -> None:
        later = datetime(2026, 6, 15, tzinfo=UTC)

        assert working_between(calendar(), later, later - timedelta(days=1)) == timedelta(0)

    def test_a_week_without_work_is_refused(self) -> None:
        empty = WorkingCalendar(ZoneInfo("Europe/Berlin"), (Week(date(2020, 1, 1), ()),))

        with pytest.raises(NoWorkingTime):
            add_working_time(empty, datetime(2026, 6, 15, tzinfo=UTC), MINUTE)

    def test_time_is_not_taken_away(self) -> None:
        with pytest.raises(ValueError, match="not taken away"):
            add_working_time(calendar(), datetime(2026, 6, 15, tzinfo=UTC), -MINUTE)
