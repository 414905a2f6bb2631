"""Places, windows and trees: what a site, a week and a batch may look like."""

from datetime import UTC, date, datetime

import pytest

from findings.plant.rules import (
    CURRENCIES,
    MINUTES_PER_WEEK,
    PlaceRefused,
    WindowRefused,
    as_rows,
    check_currency,
    check_time_zone,
    clean_code,
    local_day,
    minutes_per_week,
    read_windows,
    repeated,
    runs_at,
    walk_order,
)

NIGHT = [{"days": [4], "start": "22:00", "end": "06:00"}]
DAYS = [{"days": [0, 1, 2, 3, 4], "start": "06:00", "end": "22:00"}]


class TestTimeZone:
    @pytest.mark.parametrize("name", ["Europe/Berlin", "America/Chicago", "UTC", " Asia/Kolkata "])
    def test_is_a_place_of_the_database(self, name):
        assert check_time_zone(name) == name.strip()

    @pytest.mark.parametrize(
        "name", ["", "Berlin", "EST", "Etc/GMT-1", "Europe/Tarnbeck", "../etc/passwd", "\x00"]
    )
    def test_refuses_offsets_and_inventions(self, name):
        with pytest.raises(PlaceRefused) as refused:
            check_time_zone(name)

        assert refused.value.code == "time_zone_unknown"


class TestCurrency:
    @pytest.mark.parametrize("code", ["EUE", "eur", "XXX", "", "€"])
    def test_refuses_what_is_no_money(self, code):
        with pytest.raises(PlaceRefused):
            check_currency(code)

    def test_knows_only_codes_of_three_capitals(self):
        assert all(len(code) == 3 and code.isupper() for code in CURRENCIES)
        assert check_currency("EUR") == "EUR"


class TestCode:
    def test_loses_blanks_around_and_doubled_inside(self):
        assert clean_code("  WR   12\n") == "WR 12"

    def test_is_never_empty(self):
        with pytest.raises(PlaceRefused):
            clean_code(" \t ")


class TestLocalDay:
    def test_follows_the_clocks_of_the_site(self):
        late = datetime(2026, 3, 1, 23, 30, tzinfo=UTC)

        assert local_day(late, "Europe/Berlin") == date(2026, 3, 2)
        assert local_day(late, "America/Chicago") == date(2026, 3, 1)


class TestRunningWindows:
    def test_no_windows_mean_always(self):
        assert minutes_per_week([]) == MINUTES_PER_WEEK
        assert runs_at([], datetime(2026, 3, 1, 3, tzinfo=UTC))

    def test_one_that_ends_before_it_starts_ends_next_day(self):
        night = read_windows(NIGHT)

        assert night[0].ends_next_day
        assert night[0].minutes == 8 * 60
        assert runs_at(night, datetime(2026, 3, 7, 5, 59, tzinfo=UTC))  # a Saturday morning
        assert not runs_at(night, datetime(2026, 3, 7, 6, 0, tzinfo=UTC))

    def test_sunday_night_goes_on_on_monday(self):
        night = read_windows([{"days": [6], "start": "22:00", "end": "06:00"}])

        assert runs_at(night, datetime(2026, 3, 2, 5, 0, tzinfo=UTC))  # a Monday morning
        assert minutes_per_week(night) == 8 * 60

    def test_overlaps_count_once(self):
        both = read_windows([*DAYS, {"days": [0], "start": "20:00", "end": "24:00"}])

        assert minutes_per_week(both) == 5 * 16 * 60 + 2 * 60

    def test_a_day_may_end_at_midnight(self):
        assert minutes_per_week(read_windows([{"days": [0], "start": "00:00", "end": "24:00"}])) == 24 * 60

    def test_are_stored_as_they_were_written(self):
        assert as_rows(read_windows([*NIGHT, *DAYS])) == [*NIGHT, *DAYS]

    @pytest.mark.parametrize(
        ("row", "member", "code"),
        [
            ({"days": [0], "start": "06:00"}, "", "window_members"),
            ({"days": [0], "start": "06:00", "end": "07:00", "x": 1}, "", "window_members"),
            ({"days": [], "start": "06:00", "end": "07:00"}, "days", "days_missing"),
            ({"days": [7], "start": "06:00", "end": "07:00"}, "days", "day_unknown"),
            ({"days": [True], "start": "06:00", "end": "07:00"}, "days", "day_unknown"),
            ({"days": [1, 1], "start": "06:00", "end": "07:00"}, "days", "day_repeated"),
            ({"days": [0], "start": "24:00", "end": "07:00"}, "start", "clock_time"),
            ({"days": [0], "start": "6:00", "end": "07:00"}, "start", "clock_time"),
            ({"days": [0], "start": "06:00", "end": 7}, "end", "clock_time"),
            ({"days": [0], "start": "06:00", "end": "06:00"}, "end", "window_empty"),
        ],
    )
    def test_refuse_what_means_nothing_and_say_where(self, row, member, code):
        with pytest.raises(WindowRefused) as refused:
            read_windows([*DAYS, row])

        assert (refused.value.index, refused.value.member, refused.value.code) == (1, member, code)

    def test_refuse_more_than_a_week_can_need(self):
        with pytest.raises(WindowRefused):
            read_windows(DAYS * 51)


class TestWalkOrder:
    def test_puts_parents_first(self):
        order, circling = walk_order({0: 1, 1: 2, 2: None, 3: None})

        assert order.index(2) < order.index(1) < order.index(0)
        assert circling == set()

    def test_finds_circles_and_what_hangs_on_them(self):
        order, circling = walk_order({0: 1, 1: 0, 2: 0, 3: None, 4: 4})

        assert circling == {0, 1, 2, 4}
        assert order == [3]


class TestRepeated:
    def test_names_what_occurs_twice(self):
        assert repeated(["A", "B", "A", "C", "B", "A"]) == {"A", "B"}
