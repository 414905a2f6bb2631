"""Time-of-use tariffs: every hour has one price, and money is exact through every change of the clock."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from findings.kinds.demand_charge import demand_charge, months_touched
from findings.kinds.local_hours import Window, a_year_from, clock, local_stretches, minutes_of
from findings.kinds.operating_calendar import (
    ALWAYS,
    CalendarWrong,
    OperatingCalendar,
    Outside,
    microseconds_in,
)
from findings.kinds.tariff import cost_parts, mean_price, money, parts_of
from findings.kinds.tariff_reading import TariffWrong, calendar_of, table_of

BERLIN, HAVANA, HOWE, UTC_ZONE = (
    ZoneInfo(name) for name in ("Europe/Berlin", "America/Havana", "Australia/Lord_Howe", "UTC")
)
WORK = ["mon", "tue", "wed", "thu", "fri"]
REST = ["sat", "sun", "holiday"]
BANDS = [
    {"name": "peak", "price_per_kwh": "0.31", "days": WORK, "windows": [{"start": "07:00", "end": "20:00"}]},
    {
        "name": "night",
        "price_per_kwh": "0.19",
        "days": WORK,
        "windows": [{"start": "00:00", "end": "07:00"}, {"start": "20:00", "end": "24:00"}],
    },
    {"name": "rest", "price_per_kwh": "0.17", "days": REST, "windows": [{"start": "00:00", "end": "24:00"}]},
]
TABLE = table_of(BANDS, ["2026-12-25"])
SHIFT = OperatingCalendar({day: [Window(360, 1320)] for day in WORK}, frozenset({date(2026, 12, 24)}))
MOMENTS = st.integers(0, 2 * 366 * 86_400 * 4).map(
    lambda quarter: datetime(2025, 1, 1, tzinfo=UTC) + timedelta(seconds=quarter) / 4
)


def at(zone, *parts):
    return datetime(*parts, tzinfo=zone)


def hours_of(table, start, end, zone, hours=None):
    return {part.band.name: part.hours for part in parts_of(table, start, end, zone, hours)}


class TestDays:
    @pytest.mark.parametrize(
        ("zone", "day", "hours"),
        [
            (BERLIN, (2026, 3, 29), 23),
            (BERLIN, (2026, 10, 25), 25),
            (BERLIN, (2026, 6, 1), 24),
            # Havana changes at midnight: the day begins at 01:00 in spring.
            (HAVANA, (2026, 3, 8), 23),
            (HOWE, (2026, 4, 5), Fraction(49, 2)),
        ],
    )
    def test_have_their_true_hours(self, zone, day, hours):
        start = at(zone, *day)

        assert sum(hours_of(TABLE, start, start + timedelta(days=1), zone).values()) == hours

    def test_are_cut_at_midnight_and_where_the_clock_changes(self):
        start = at(BERLIN, 2026, 10, 24, 22)

        cut = list(local_stretches(start, start + timedelta(days=1), BERLIN))

        hours = [(stretch.day.day, stretch.start_us / 3.6e9, stretch.end_us / 3.6e9) for stretch in cut]
        assert hours == [(24, 22, 24), (25, 0, 3), (25, 2, 22)]

    def test_count_the_hour_that_comes_twice_at_its_price(self):
        bands = [
            {"name": "late", "price_per_kwh": "1", "windows": [{"start": "02:00", "end": "03:00"}]},
            {
                "name": "else",
                "price_per_kwh": "0",
                "windows": [{"start": "00:00", "end": "02:00"}, {"start": "03:00", "end": "24:00"}],
            },
        ]
        table = table_of(bands)

        spring, autumn = (
            money(table, Decimal(1000), at(BERLIN, *day), at(BERLIN, *day) + timedelta(days=1), BERLIN)
            for day in ((2026, 3, 29), (2026, 10, 25))
        )

        assert (spring, autumn) == (0, 2)

    @pytest.mark.parametrize("zone", [BERLIN, HAVANA, HOWE, UTC_ZONE])
    @settings(max_examples=40)
    @given(start=MOMENTS, seconds=st.integers(1, 3 * 86_400))
    def test_agree_with_the_band_at_every_quarter_of_an_hour(self, zone, start, seconds):
        start = start.replace(minute=start.minute // 15 * 15, second=0, microsecond=0)
        quarters = seconds // 900 + 1
        counted = {}
        for place in range(quarters):
            name = TABLE.band_at(start + place * timedelta(minutes=15), zone).name
            counted[name] = counted.get(name, 0) + Fraction(1, 4)

        assert hours_of(TABLE, start, start + quarters * timedelta(minutes=15), zone) == counted


class TestMoney:
    def test_of_a_working_day(self):
        # 2 kW: 13 h at 0.31 and 11 h at 0.19.
        start = at(BERLIN, 2026, 6, 1)

        assert money(TABLE, Decimal(2000), start, start + timedelta(days=1), BERLIN) == Fraction("12.24")

    def test_of_a_holiday_is_that_of_its_own_band(self):
        start = at(BERLIN, 2026, 12, 25)

        assert hours_of(TABLE, start, start + timedelta(days=1), BERLIN) == {"rest": 24}

    @settings(max_examples=60)
    @given(st.lists(MOMENTS, min_size=3, max_size=3).map(sorted))
    def test_adds_up_over_adjacent_stretches(self, moments):
        first, middle, last = moments
        power = Decimal("1234.567")

        whole = money(TABLE, power, first, last, BERLIN)

        assert whole == money(TABLE, power, first, middle, BERLIN) + money(TABLE, power, middle, last, BERLIN)

    @settings(max_examples=60)
    @given(start=MOMENTS, end=MOMENTS)
    def test_inside_and_outside_the_shifts_is_the_whole(self, start, end):
        inside, outside, whole = (
            money(TABLE, Decimal(1000), start, end, BERLIN, hours) for hours in (SHIFT, Outside(SHIFT), None)
        )

        assert inside + outside == whole

    def test_is_nothing_backwards(self):
        start = at(BERLIN, 2026, 6, 1)

        assert money(TABLE, Decimal(1000), start, start - timedelta(days=1), BERLIN) == 0

    def test_is_the_power_times_hours_times_price_by_band(self):
        start = at(BERLIN, 2026, 6, 1)
        parts = parts_of(TABLE, start, start + timedelta(days=7), BERLIN)

        costs = cost_parts(Decimal(500), parts)

        assert [(cost.part.band.name, cost.energy_kwh, cost.money) for cost in costs] == [
            ("peak", Fraction(65, 2), Fraction("10.075")),
            ("night", Fraction(55, 2), Fraction("5.225")),
            ("rest", 24, Fraction("4.08")),
        ]

    def test_needs_moments_with_their_offset(self):
        with pytest.raises(ValueError, match="offset"):
            money(TABLE, Decimal(1), datetime(2026, 1, 1), datetime(2026, 1, 2), BERLIN)  # noqa: DTZ001


class TestMeanPrice:
    def test_of_a_flat_table_is_its_price(self):
        flat = table_of(
            [{"name": "all", "price_per_kwh": "0.2", "windows": [{"start": "00:00", "end": "24:00"}]}]
        )
        start = at(BERLIN, 2026, 1, 1)

        assert mean_price(flat, start, a_year_from(start, BERLIN), BERLIN).price_per_kwh == Fraction(1, 5)

    def test_of_a_year_has_parts_that_fill_it(self):
        start = at(BERLIN, 2026, 1, 1)

        mean = mean_price(TABLE, start, a_year_from(start, BERLIN), BERLIN)

        assert mean.hours == 8760
        assert sum(part.share for part in mean.parts) == 1
        # 2026 has 261 working days, one of them the listed holiday.
        assert mean.parts[0].hours == 260 * 13

    def test_of_the_shifts_is_dearer(self):
        start = at(BERLIN, 2026, 1, 1)
        year = (start, a_year_from(start, BERLIN), BERLIN)

        assert mean_price(TABLE, *year, SHIFT).price_per_kwh > mean_price(TABLE, *year).price_per_kwh

    def test_of_no_hour_is_none(self):
        start = at(BERLIN, 2026, 1, 1)

        assert mean_price(TABLE, start, start, BERLIN) is None

    def test_of_the_whole_clock_is_the_same_with_a_calendar(self):
        start = at(BERLIN, 2026, 3, 1)
        month = (start, at(BERLIN, 2026, 4, 1), BERLIN)

        assert mean_price(TABLE, *month, ALWAYS) == mean_price(TABLE, *month)


class TestYear:
    def test_of_a_leap_day_ends_on_the_first_of_march(self):
        assert a_year_from(at(BERLIN, 2028, 2, 29, 12), BERLIN) == at(BERLIN, 2029, 3, 1, 12)


def problems_of(bands, holidays=()):
    with pytest.raises(TariffWrong) as refusal:
        table_of(bands, holidays)
    return refusal.value.problems


class TestCoverage:
    def test_names_the_hours_without_a_price(self):
        bands = [{**BANDS[0], "windows": [{"start": "08:00", "end": "20:00"}]}, *BANDS[1:]]

        assert [problem.text for problem in problems_of(bands)] == [
            "there is no price from 07:00 to 08:00 on mon, tue, wed, thu, fri in every month"
        ]

    def test_names_the_hours_with_two_prices(self):
        bands = [{**BANDS[0], "windows": [{"start": "06:00", "end": "20:00"}], "months": [1, 2]}]
        bands += [{**BANDS[0], "name": "summer", "months": list(range(3, 13))}, *BANDS[1:]]

        assert [(problem.code, problem.text) for problem in problems_of(bands)] == [
            (
                "two_prices",
                (
                    "there is more than one price (night and peak) from 06:00 to 07:00 on mon, tue, wed, "
                    "thu, fri in Jan, Feb"
                ),
            )
        ]

    def test_of_holidays_is_asked_for_only_with_a_list_of_them(self):
        bands = [*BANDS[:2], {**BANDS[2], "days": ["sat", "sun"]}]

        assert table_of(bands).holidays == frozenset()
        assert "on holiday in every month" in problems_of(bands, ["2026-12-25"])[0].text

    @settings(max_examples=60)
    @given(st.lists(st.integers(1, 1439), unique=True, max_size=6).map(sorted))
    def test_of_any_cut_of_the_day_is_whole(self, cuts):
        edges = [0, *cuts, 1440]
        bands = [
            {
                "name": f"band {place}",
                "price_per_kwh": "0.1",
                "windows": [{"start": clock(start), "end": clock(end)}],
            }
            for place, (start, end) in enumerate(pairwise(edges))
        ]
        day = at(UTC_ZONE, 2026, 5, 4)

        assert sum(hours_of(table_of(bands), day, day + timedelta(days=1), UTC_ZONE).values()) == 24

    @pytest.mark.parametrize(
        ("change", "pointer"),
        [
            ({"price_per_kwh": 0.31}, "/bands/0/price_per_kwh"),
            ({"price_per_kwh": "-1"}, "/bands/0/price_per_kwh"),
            ({"price_per_kwh": "1e-30"}, "/bands/0/price_per_kwh"),
            ({"price_per_kwh": "NaN"}, "/bands/0/price_per_kwh"),
            ({"windows": "all day"}, "/bands/0/windows"),
            ({"windows": [{"start": "20:00", "end": "06:00"}]}, "/bands/0/windows/0"),
            ({"windows": [{"start": "07:00"}]}, "/bands/0/windows/0"),
            ({"windows": [{"start": "7:00", "end": "24:01"}]}, "/bands/0/windows/0"),
            ({"months": [0]}, "/bands/0/months"),
            ({"months": []}, "/bands/0/months"),
            ({"months": [[1]]}, "/bands/0/months"),
            ({"days": ["monday"]}, "/bands/0/days"),
            ({"name": ""}, "/bands/0/name"),
            ({"colour": "red"}, "/bands/0/colour"),
            ({"name": "rest"}, "/bands"),
        ],
    )
    def test_is_not_judged_before_the_form_is_right(self, change, pointer):
        assert problems_of([{**BANDS[0], **change}, *BANDS[1:]])[0].pointer == pointer

    @pytest.mark.parametrize("bands", [None, [], {}, [None], [[]], "x", [{}] * 41])
    def test_needs_bands(self, bands):
        assert problems_of(bands)[0].pointer.startswith("/bands")

    @pytest.mark.parametrize("holidays", ["2026-12-25", [20261225], ["25.12.2026"], [None], ["1812-12-25"]])
    def test_needs_holidays_as_days(self, holidays):
        assert problems_of(BANDS, holidays)[0].pointer.startswith("/holidays")


class TestCalendar:
    def test_leaves_out_its_closed_days(self):
        week = (at(BERLIN, 2026, 12, 21), at(BERLIN, 2026, 12, 28))

        assert microseconds_in(SHIFT, *week, BERLIN) == 4 * 16 * 3_600_000_000

    @pytest.mark.parametrize(
        ("weekly", "words"),
        [
            ({"mon": [Window(0, 60), Window(30, 90)]}, "overlap"),
            ({"mon": [Window(60, 60)]}, "must end after it begins"),
            ({"mon": [Window(0, 1500)]}, "must end after it begins"),
            ({"holiday": [Window(0, 60)]}, "no weekday"),
        ],
    )
    def test_that_cannot_be_is_refused(self, weekly, words):
        with pytest.raises(CalendarWrong, match=words):
            OperatingCalendar(weekly)

    def test_is_read_from_plain_data(self):
        read = calendar_of({"mon": [{"start": "06:00", "end": "22:00"}]}, ["2026-12-24"])

        assert (read.windows(date(2026, 6, 1)), read.windows(date(2026, 6, 2))) == ((Window(360, 1320),), ())

    @pytest.mark.parametrize("weekly", [None, [], {"mon": 1}, {"mon": [{"start": "22:00", "end": "06:00"}]}])
    def test_of_the_wrong_form_is_refused(self, weekly):
        with pytest.raises(TariffWrong):
            calendar_of(weekly)


class TestClock:
    @given(st.integers(0, 1440))
    def test_reads_what_it_writes(self, minutes):
        assert minutes_of(clock(minutes)) == minutes

    @pytest.mark.parametrize("text", ["", "7:00", "24:01", "12:60", "aa:bb", "１２:00", "12:000", "-1:00"])
    def test_reads_nothing_else(self, text):
        assert minutes_of(text) is None


class TestDemandCharge:
    @pytest.mark.parametrize(
        ("start", "end", "months"),
        [
            ((2026, 3, 1), (2026, 6, 1), (3, 3)),
            ((2026, 3, 2), (2026, 6, 1), (2, 3)),
            ((2026, 3, 31, 12), (2026, 5, 1, 0, 1), (1, 3)),
            ((2026, 3, 5), (2026, 3, 5), (0, 0)),
            ((2026, 12, 1), (2027, 2, 1), (2, 2)),
        ],
    )
    def test_counts_the_sites_months(self, start, end, months):
        assert months_touched(at(BERLIN, *start), at(BERLIN, *end), BERLIN) == months

    def test_is_certain_only_for_whole_months(self):
        charge = demand_charge(
            Decimal("11.5"), Decimal(2000), at(BERLIN, 2026, 3, 2), at(BERLIN, 2026, 6, 1), BERLIN
        )

        assert (charge.least, charge.most) == (46, 69)
