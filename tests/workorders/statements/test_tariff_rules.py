"""Electricity priced by the hour in the months' figures."""

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from findings.kinds.tariff import money
from findings.kinds.tariff_reading import table_of
from tests.workorders.statements.histories import AIR, LONG_AGO, PRAGUE, Leak, dated, on, per_hour
from workorders.statements.rules import (
    DatedTable,
    PriceGapError,
    PriceSeries,
    SystemSeries,
    inputs_digest,
    month_figures,
    quantise,
)
from workorders.statements.rules.money import amount_at_rate

WORK, REST = ["mon", "tue", "wed", "thu", "fri"], ["sat", "sun", "holiday"]
DAY, NIGHT = (
    {"start": "06:00", "end": "22:00"},
    [
        {"start": "00:00", "end": "06:00"},
        {"start": "22:00", "end": "24:00"},
    ],
)
TABLE = table_of(
    [
        {"name": "day", "price_per_kwh": "0.20", "days": WORK, "windows": [DAY]},
        {"name": "night", "price_per_kwh": "0.10", "days": WORK, "windows": NIGHT},
        {
            "name": "rest",
            "price_per_kwh": "0.08",
            "days": REST,
            "windows": [{"start": "00:00", "end": "24:00"}],
        },
    ]
)
FLAT = table_of([{"name": "all", "price_per_kwh": "0.15", "windows": [{"start": "00:00", "end": "24:00"}]}])
AIR_SYSTEM = SystemSeries("Air 7 bar", specific_energy_j_per_m3=(dated("432000"),))
END = on(1, 7)
DIGEST_BEFORE = "b6e678f1d3604a5f0b4b136d0f2bac3b8562030f7d96c836e3fa0541a9a7e925"


def tabled(table, from_at=LONG_AGO, recorded_at=LONG_AGO, void_at=None):
    return DatedTable(table, "Europe/Prague", from_at, recorded_at, void_at)


def series(*tables, flat=()):
    return PriceSeries("EUR", flat, {AIR: AIR_SYSTEM}, electricity_tables=tables)


def june(leak, prices, as_of=END):
    return month_figures([leak.history], prices, on(1).date(), PRAGUE, as_of)


def accrued(leak, prices, as_of=END):
    return quantise(june(leak, prices, as_of).total.accrued)


MOMENTS = st.integers(0, 60 * 24 * 4).map(lambda quarter: on(1) + timedelta(minutes=15 * quarter))


class TestMonth:
    def test_counts_each_hour_at_its_price(self):
        # 10 m3/h at 0.12 kWh/m3 is 1.2 kW; June 2025 has 21 working days and 9 days of rest.
        hours = 21 * (16 * Fraction("0.20") + 8 * Fraction("0.10")) + 9 * 24 * Fraction("0.08")

        assert accrued(Leak("1", 10, on(1, 5)), series(tabled(TABLE))) == quantise(hours * Fraction("1.2"))

    def test_of_a_table_with_one_price_is_that_of_the_flat_price(self):
        leak = Leak("1", 10, on(11))

        flat = june(leak, series(flat=(dated("0.15"),)))

        assert june(leak, series(tabled(FLAT))).total == flat.total

    def test_changes_from_flat_to_table_and_back(self):
        prices = series(tabled(TABLE, on(10)), flat=(dated("0.15"), dated("0.30", on(20))))

        known = prices.known(END)
        pieces = list(known.pieces(AIR, on(1), on(30)))

        kwh = Fraction("0.12")
        table = money(TABLE, Decimal(1000), on(10), on(20), PRAGUE) / 240
        assert [piece.cost_per_m3 for piece in pieces] == [
            kwh * Fraction("0.15"),
            kwh * table,
            kwh * Fraction("0.30"),
        ]

    @settings(max_examples=40)
    @given(st.lists(MOMENTS, min_size=3, max_size=3, unique=True).map(sorted))
    def test_adds_up_over_adjacent_stretches(self, moments):
        known = series(tabled(TABLE)).known(END)
        first, middle, last = moments

        def cost(start, end):
            return amount_at_rate(per_hour(10), AIR, start, end, known).cost

        assert cost(first, last) == cost(first, middle) + cost(middle, last)

    def test_voided_is_no_longer_in_force(self):
        wrong = tabled(TABLE, on(2), on(2), void_at=on(3))

        assert accrued(Leak("1", 10, on(11)), series(wrong, flat=(dated("0.15"),))) == Decimal("86.40")

    def test_recorded_later_was_not_known_then(self):
        late = tabled(TABLE, on(2), on(5, 7))

        assert accrued(Leak("1", 10, on(11)), series(late, flat=(dated("0.15"),))) == Decimal("86.40")

    def test_before_the_first_price_names_the_gap(self):
        known = series(tabled(TABLE, on(16))).known(END)

        with pytest.raises(PriceGapError, match="electricity price per kWh"):
            list(known.pieces(AIR, on(1), on(30)))


class TestRate:
    @pytest.mark.parametrize("hour", [3, 12])
    def test_told_at_a_moment_is_the_mean_of_the_coming_year(self, hour):
        known = series(tabled(TABLE)).known(END)

        found = known.cost_per_m3_at(AIR, on(11, hour=hour))

        # From 11 June 2025: 261 working days and 104 days of rest.
        mean = (261 * (16 * Fraction("0.2") + 8 * Fraction("0.1")) + 104 * 24 * Fraction("0.08")) / 8760
        assert found == Fraction("0.12") * Fraction(
            round(Decimal(mean.numerator) / Decimal(mean.denominator), 10)
        )


class TestTables:
    @pytest.mark.parametrize(
        ("start", "end", "found"),
        [(1, 10, False), (1, 11, True), (12, 15, True), (19, 25, True), (20, 25, False)],
    )
    def test_are_seen_where_they_hold(self, start, end, found):
        prices = series(tabled(TABLE, on(10)), flat=(dated("0.15"), dated("0.30", on(20))))

        assert prices.known(END).has_table(on(start), on(end)) is found

    def test_are_not_seen_where_there_is_no_price(self):
        assert not series().known(END).has_table(on(1), on(2))


class TestDigest:
    LEAK = Leak("1", 10, on(11)).history

    def digest(self, prices, as_of=END):
        return inputs_digest([self.LEAK], prices, on(1).date(), PRAGUE, as_of)

    def test_without_tables_is_what_it_was(self):
        # Written down before tables were kept: months closed then have to prove the same.
        prices = PriceSeries("EUR", (dated("0.15"),), {AIR: AIR_SYSTEM})

        assert self.digest(prices).hex() == DIGEST_BEFORE

    def test_stands_on_the_table(self):
        other = tabled(FLAT)

        assert self.digest(series(tabled(TABLE))) != self.digest(series(other))

    def test_does_not_change_when_the_table_is_voided_later(self):
        voided = tabled(TABLE, void_at=END + timedelta(days=1))

        assert self.digest(series(voided)) == self.digest(series(tabled(TABLE)))
