"""What a day is, where that comes from, and what is not known."""

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from findings.kinds.local_hours import Window
from workorders.calendars.rules import (
    DayKind,
    HolidaysUnknown,
    ShiftWrong,
    SiteDays,
    Week,
    WorkingCalendar,
    check_country,
    holidays_of,
    plain_shift,
    shift_of,
    shifts_of,
)

BERLIN = ZoneInfo("Europe/Berlin")
EARLY = shifts_of([{"days": ["mon", "tue", "wed", "thu", "fri"], "start": "06:00", "end": "14:00"}])
NIGHT = shifts_of([{"days": ["mon"], "start": "22:00", "end": "06:00"}])


def plan(*days: SiteDays, known_until_on: date | None = date(2026, 12, 31)) -> WorkingCalendar:
    week = Week(date(2025, 1, 1), EARLY, "DE", "BW", known_until_on)
    return WorkingCalendar(BERLIN, (week,), days)


class TestShift:
    def test_past_midnight_belongs_to_both_days(self) -> None:
        calendar = WorkingCalendar(BERLIN, (Week(date(2025, 1, 1), NIGHT),))

        days = [calendar.windows(date(2026, 6, 15)), calendar.windows(date(2026, 6, 16))]

        assert days == [(Window(1320, 1440),), (Window(0, 360),)]

    def test_is_told_as_it_was_given(self) -> None:
        given = {"days": ["fri", "sat"], "start": "22:00", "end": "06:00"}

        assert plain_shift(shift_of(given)) == given

    @pytest.mark.parametrize(
        ("start", "end", "where"),
        [
            ("6", "14:00", "0/start"),
            ("24:00", "06:00", "0/start"),
            ("06:00", "25:00", "0/end"),
            ("06:00", "06:00", "0/end"),
        ],
    )
    def test_is_refused_at_its_place(self, start: str, end: str, where: str) -> None:
        with pytest.raises(ShiftWrong) as refused:
            shifts_of([{"days": ["mon"], "start": start, "end": end}])

        assert refused.value.pointer == where

    def test_needs_a_weekday(self) -> None:
        with pytest.raises(ShiftWrong, match="begins on days"):
            shifts_of([{"days": ["holiday"], "start": "06:00", "end": "14:00"}])

    def test_handovers_are_counted_once(self) -> None:
        both = shifts_of(
            [
                {"days": ["mon"], "start": "06:00", "end": "14:30"},
                {"days": ["mon"], "start": "14:00", "end": "22:00"},
            ]
        )

        assert WorkingCalendar(BERLIN, (Week(date(2025, 1, 1), both),)).windows(date(2026, 6, 15)) == (
            Window(360, 1320),
        )


class TestDay:
    def test_of_a_public_holiday_has_no_work(self) -> None:
        assert plan().windows(date(2026, 6, 4)) == ()  # Corpus Christi

    def test_worked_by_exception_has_the_weekdays_hours(self) -> None:
        worked = SiteDays(DayKind.WORKED, date(2026, 6, 4), date(2026, 6, 4), "rush order")

        assert plan(worked).windows(date(2026, 6, 4)) == (Window(360, 840),)

    def test_worked_stands_before_shutdown(self) -> None:
        days = [
            SiteDays(DayKind.SHUTDOWN, date(2026, 8, 3), date(2026, 8, 16), "summer"),
            SiteDays(DayKind.WORKED, date(2026, 8, 5), date(2026, 8, 5), "boiler inspection"),
        ]

        assert [bool(plan(*days).windows(date(2026, 8, day))) for day in (4, 5, 6)] == [False, True, False]

    def test_says_where_it_comes_from(self) -> None:
        standing, name, source = plan().standing(date(2026, 6, 4))

        assert (standing, name, source.startswith("public holidays of DE-BW")) == (
            "public_holiday",
            "Corpus Christi",
            True,
        )

    def test_follows_the_week_in_force(self) -> None:
        weeks = (Week(date(2025, 1, 1), EARLY), Week(date(2026, 6, 16), NIGHT))

        calendar = WorkingCalendar(BERLIN, weeks)

        assert (calendar.windows(date(2026, 6, 15)), calendar.windows(date(2026, 6, 16))) == (
            (Window(360, 840),),
            (),
        )


class TestPublicHolidays:
    def test_of_baden_wuerttemberg(self) -> None:
        # Feiertagsgesetz Baden-Württemberg section 1: twelve days; Easter Sunday 2026 is 5 April.
        days = [
            (1, 1), (1, 6), (4, 3), (4, 6), (5, 1), (5, 14), (5, 25), (6, 4), (10, 3), (11, 1),
            (12, 25), (12, 26),
        ]  # fmt: skip

        assert list(holidays_of("DE", "BW", 2026)) == [date(2026, month, day) for month, day in days]

    def test_of_no_country_are_none(self) -> None:
        assert holidays_of("", "", 2026) == {}

    @pytest.mark.parametrize(
        ("country", "part", "where"),
        [("XX", "", "country"), ("DE", "XX", "subdivision"), ("", "BW", "subdivision")],
    )
    def test_are_asked_of_places_that_exist(self, country: str, part: str, where: str) -> None:
        with pytest.raises(HolidaysUnknown) as refused:
            check_country(country, part)

        assert refused.value.pointer == where


class TestWarnings:
    def test_without_a_week_say_what_is_assumed(self) -> None:
        told = WorkingCalendar(BERLIN).warnings(date(2026, 1, 1), date(2026, 12, 31))

        assert [code for code, _ in told] == ["week_assumed"]

    def test_past_what_the_site_has_looked_at(self) -> None:
        told = plan().warnings(date(2027, 1, 1), date(2027, 12, 31))

        assert [code for code, _ in told] == ["days_unknown"]

    def test_past_what_the_library_knows(self) -> None:
        told = plan(known_until_on=date(2999, 1, 1)).warnings(date(2150, 1, 1), date(2150, 12, 31))

        assert [code for code, _ in told] == ["holidays_unknown"]

    def test_are_none_where_all_is_known(self) -> None:
        assert plan().warnings(date(2026, 1, 1), date(2026, 12, 31)) == ()

    def test_the_next_shutdown_is_the_one_not_yet_over(self) -> None:
        past = SiteDays(DayKind.SHUTDOWN, date(2026, 1, 1), date(2026, 1, 5), "new year")
        summer = SiteDays(DayKind.SHUTDOWN, date(2026, 8, 3), date(2026, 8, 16), "summer")

        assert plan(past, summer).next_shutdown(date(2026, 1, 6)) == summer


class TestAttended:
    @pytest.mark.parametrize(
        ("day", "attended"),
        [(date(2026, 6, 15), True), (date(2026, 6, 13), False), (date(2026, 6, 4), False)],
    )
    def test_is_a_day_of_the_week_that_is_no_holiday(self, day: date, attended: bool) -> None:
        assert plan().is_attended(day) is attended

    def test_the_morning_of_a_night_shift_is_the_day_before(self) -> None:
        calendar = WorkingCalendar(BERLIN, (Week(date(2025, 1, 1), NIGHT),))

        assert [calendar.is_attended(date(2026, 6, day)) for day in (15, 16)] == [True, False]

    def test_a_shutdown_is_not(self) -> None:
        shutdown = SiteDays(DayKind.SHUTDOWN, date(2026, 6, 15), date(2026, 6, 19), "revision")

        assert plan(shutdown).is_attended(date(2026, 6, 17)) is False

    @pytest.mark.parametrize(("kind", "attended"), [(DayKind.CLOSED, False), (DayKind.WORKED, True)])
    def test_without_a_week_the_sites_own_days_decide(self, kind: DayKind, attended: bool) -> None:
        sunday = date(2026, 6, 14)
        calendar = WorkingCalendar(BERLIN, (), (SiteDays(kind, sunday, sunday, "stock-taking"),))

        assert calendar.is_attended(sunday) is attended

    def test_without_a_week_any_other_day_is_one(self) -> None:
        assert WorkingCalendar(BERLIN).is_attended(date(2026, 6, 14)) is True
