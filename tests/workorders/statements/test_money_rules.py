"""Accrued and avoided money of a month, one edge case after the other, by hand-checked figures.

Zone Europe/Prague, 0.12 kWh per m³ and 0.15 a kWh unless said: 10 m³/h cost 0.18 an hour.
"""

from datetime import date, datetime
from decimal import Decimal

import pytest

from tests.workorders.statements.histories import (
    AIR,
    BERLIN,
    PRAGUE,
    Leak,
    dated,
    on,
    per_hour,
    prices,
)
from workorders.statements.rules import (
    DatedValue,
    EventKind,
    LossFact,
    MonthFigures,
    PriceGapError,
    PriceGapsError,
    PriceSeries,
    SystemSeries,
    cost_of_waiting,
    cost_per_day,
    difference,
    month_figures,
    quantise,
)

MAY, JUNE = date(2025, 5, 1), date(2025, 6, 1)
END_OF_MAY, END_OF_JUNE = on(1, 6), on(1, 7)


def month_of(
    *leaks: Leak, month: date = JUNE, as_of: datetime = END_OF_JUNE, series: PriceSeries | None = None
) -> MonthFigures:
    return month_figures([leak.history for leak in leaks], series or prices(), month, PRAGUE, as_of)


def shown(value: Decimal, places: int = 2) -> str:
    return str(quantise(value, places))


class TestAccrued:
    def test_plain(self) -> None:
        found = month_of(Leak("1", 10, on(11)))

        assert (shown(found.total.accrued), shown(found.total.energy_kwh, 0)) == ("86.40", "576")

    def test_a_month_that_loses_an_hour(self) -> None:
        leak = Leak("1", 10, on(1, 3))

        found = month_of(leak, month=date(2025, 3, 1), as_of=on(1, 4))

        assert (shown(found.hours, 0), shown(found.total.accrued)) == ("743", "133.74")

    def test_price_change_in_mid_month_needs_no_new_stretch(self) -> None:
        series = prices(dated("0.15"), dated("0.20", on(16)))

        assert shown(month_of(Leak("1", 10, on(1)), series=series).total.accrued) == "151.20"

    def test_leak_that_grew(self) -> None:
        assert shown(month_of(Leak("1", 10, on(1)).grew(16, on(21))).total.accrued) == "155.52"

    def test_share_of_time_under_pressure(self) -> None:
        series = prices(share=(dated("1"), dated("0.5", on(16))))

        assert shown(month_of(Leak("1", 10, on(1)), series=series).total.accrued) == "97.20"

    def test_a_month_still_running_counts_to_now(self) -> None:
        found = month_of(Leak("1", 10, on(1)), as_of=on(11))

        assert (shown(found.total.accrued), found.horizon) == ("43.20", on(11))

    def test_a_gas_has_its_own_price(self) -> None:
        system = SystemSeries("Natural gas", gas_price_per_m3=(dated("0.50"),))

        found = month_of(Leak("1", 0.1, on(11)), series=PriceSeries("EUR", (), {AIR: system}))

        assert (shown(found.total.accrued), shown(found.total.energy_kwh)) == ("24.00", "0.00")

    def test_a_finding_without_a_leak_rate_is_said_to_have_none(self) -> None:
        bearing = Leak("1", 10, on(11))
        bearing.losses = []

        found = month_of(bearing)

        assert (shown(found.total.accrued), found.without_loss) == ("0.00", 1)


class TestKnownThenAndNow:
    def test_a_corrected_estimate_restates_the_month_and_books_the_difference(self) -> None:
        leak = Leak("1", 10, on(1, 5)).corrected(6, on(10))

        reported = month_of(leak, month=MAY, as_of=END_OF_MAY)
        restated = month_of(leak, month=MAY)

        assert [shown(item.total.accrued, 3) for item in (reported, restated)] == ["133.920", "80.352"]
        assert shown(month_of(leak).total.accrued) == "77.76"
        assert shown(difference(reported, restated).accrued, 3) == "-53.568"
        assert difference(reported, restated).findings == ("1",)

    def test_a_failed_check_takes_the_month_end_back(self) -> None:
        leak = Leak("1", 10, on(1, 5)).repaired(on(21, 5)).failed(10, on(4))

        reported = month_of(leak, month=MAY, as_of=END_OF_MAY)
        restated = month_of(leak, month=MAY)

        assert [shown(item.total.accrued) for item in (reported, restated)] == ["86.40", "133.92"]
        assert shown(month_of(leak).total.accrued) == "129.60"
        assert shown(difference(reported, restated).accrued) == "47.52"

    def test_a_failed_check_earns_nothing(self) -> None:
        leak = Leak("1", 10, on(1, 5)).repaired(on(21, 5)).failed(10, on(4))

        totals = [month_of(leak, month=month).total for month in (MAY, JUNE)]

        assert sum(item.avoided_verified + item.avoided_claimed for item in totals) == 0

    def test_before_the_check_it_was_claimed(self) -> None:
        leak = Leak("1", 10, on(1, 5)).repaired(on(21, 5)).failed(10, on(4))

        found = month_of(leak, month=MAY, as_of=END_OF_MAY).total

        assert [shown(found.avoided_claimed), shown(found.avoided_verified)] == ["47.52", "0.00"]


class TestAvoided:
    def test_partial_repair_earns_the_drop_and_stays_open(self) -> None:
        found = month_of(Leak("1", 10, on(1)).repaired(on(11)).partial(4, on(13))).total

        assert [shown(found.accrued), shown(found.avoided_verified), found.open_end] == ["77.76", "51.84", 1]

    def test_ends_when_it_leaks_again(self) -> None:
        leak = Leak("1", 10, on(1)).repaired(on(6)).passed(on(7)).reopened(8, on(21))

        found = month_of(leak).total

        assert [shown(found.accrued), shown(found.avoided_verified)] == ["56.16", "64.80"]

    def test_ends_after_365_days(self) -> None:
        leak = Leak("1", 10, on(1, 6, year=2024)).repaired(on(11, 6, year=2024)).passed(on(12, 6, year=2024))

        assert shown(month_of(leak).total.avoided_verified) == "43.20"

    def test_ends_when_the_asset_goes_out_of_service(self) -> None:
        leak = Leak("1", 10, on(1)).repaired(on(6)).passed(on(7)).removed(on(16))

        found = month_of(leak).total

        assert (shown(found.avoided_verified), found.removed) == ("43.20", 0)

    def test_out_of_service_is_no_repair_and_no_saving(self) -> None:
        found = month_of(Leak("1", 10, on(1)).removed(on(16))).total

        assert shown(found.accrued) == "64.80"
        assert found.avoided_verified + found.avoided_claimed == 0

    def test_a_closure_by_reason_leaves_it_claimed(self) -> None:
        leak = Leak("1", 10, on(1)).repaired(on(11)).happened(EventKind.CLOSED, on(12))

        found = month_of(leak).total

        assert [shown(found.avoided_claimed), shown(found.avoided_verified)] == ["86.40", "0.00"]
        assert (found.closed, found.closed_by_reason) == (0, 1)


class TestSetAside:
    def test_a_merged_duplicate_costs_nothing_and_the_survivor_runs_from_when_both_were_there(self) -> None:
        survivor = Leak("A", 10, on(11))
        duplicate = Leak("B", 7, on(6)).void(on(12), EventKind.MERGED)
        survivor.losses.append(LossFact(AIR, per_hour(10), on(6), on(12), on(11), on(12)))

        found = month_of(survivor, duplicate)

        assert shown(found.total.accrued) == "108.00"
        assert [line.finding_id for line in found.lines] == ["A"]

    def test_a_dismissed_one_never_cost_anything(self) -> None:
        leak = Leak("1", 10, on(1, 5)).void(on(3), EventKind.DISMISSED)

        reported = month_of(leak, month=MAY, as_of=END_OF_MAY)
        restated = month_of(leak, month=MAY)

        assert [shown(item.total.accrued) for item in (reported, restated)] == ["133.92", "0.00"]


class TestPriceAndEstimateAndClockChange:
    """Europe/Berlin, March 2026; 6.5 kW/(m³/min); 0.18 a kWh, from 15 March 0.21; 12 m³/h found 10 March
    08:00, estimated anew 20 March 12:00 to 9 m³/h, repaired 27 March 10:00, verified 2 April."""

    SERIES = prices(dated("0.18"), dated("0.21", on(15, 3, year=2026, zone=BERLIN)), energy="390000")
    LEAK = (
        Leak("1", 12, on(10, 3, 8, 2026, BERLIN))
        .grew(9, on(20, 3, 12, 2026, BERLIN))
        .repaired(on(27, 3, 10, 2026, BERLIN))
        .passed(on(2, 4, 9, 2026, BERLIN))
    )

    def found(self, month: int, as_of: datetime) -> MonthFigures:
        return month_figures([self.LEAK.history], self.SERIES, date(2026, month, 1), BERLIN, as_of)

    def test_each_stretch(self) -> None:
        known = self.SERIES.known(on(1, 4, year=2026, zone=BERLIN))
        marks = [on(10, 3, 8, 2026, BERLIN), on(15, 3, 0, 2026, BERLIN), on(20, 3, 12, 2026, BERLIN)]
        last = on(27, 3, 10, 2026, BERLIN)

        money = [
            cost_of_waiting(per_hour(12), AIR, marks[0], marks[1], known),
            cost_of_waiting(per_hour(12), AIR, marks[1], marks[2], known),
            cost_of_waiting(per_hour(9), AIR, marks[2], last, known),
        ]

        assert [shown(item, 4) for item in money] == ["26.2080", "36.0360", "33.9885"]

    def test_march_as_closed(self) -> None:
        total = self.found(3, on(1, 4, year=2026, zone=BERLIN)).total

        assert [shown(total.accrued, 4), shown(total.avoided_claimed, 5), total.avoided_verified] == [
            "96.2325",
            "22.31775",
            0,
        ]

    def test_april_verifies_march_and_goes_on_earning(self) -> None:
        end = on(1, 5, year=2026, zone=BERLIN)

        money = [self.found(month, end).total.avoided_verified for month in (3, 4)]

        assert [shown(money[0], 5), shown(money[1])] == ["22.31775", "147.42"]


class TestWaiting:
    LATE = (
        Leak("1", 10, on(1))
        .happened(EventKind.DEFERRED, on(6))
        .happened(EventKind.DEFERRAL_ENDED, on(20))
        .repaired(on(27))
        .due(on(11), on(25))
    )

    def test_a_deferral_extends_the_clock_and_never_the_money(self) -> None:
        total = month_of(self.LATE).total

        assert [shown(total.cost_past_due), shown(total.cost_past_extended_due)] == ["69.12", "8.64"]

    def test_a_shutdown_that_moves_costs_what_leaks_meanwhile(self) -> None:
        known = prices(dated("0.15"), dated("0.18", on(1, 8))).known(END_OF_JUNE)

        first, later = (cost_of_waiting(per_hour(20), AIR, on(1, 7), on(day, 8), known) for day in (11, 25))

        assert [shown(first), shown(later, 3), shown(later - first, 3)] == ["371.52", "516.672", "145.152"]
        assert shown(400 - later, 3) == "-116.672"

    def test_a_day_of_waiting(self) -> None:
        known = prices().known(END_OF_JUNE)

        assert shown(cost_per_day(per_hour(10), AIR, on(11), known)) == "4.32"


class TestMissingPrice:
    def test_is_refused_naming_the_gap_and_never_zero(self) -> None:
        series = prices(dated("0.15", on(16)))

        with pytest.raises(
            PriceGapsError, match="price per kWh is in force from 2025-06-10T22:00Z"
        ) as refused:
            month_of(Leak("1", 10, on(11)), series=series)

        assert [(key, gap.end) for key, gap in refused.value.gaps] == [("1", on(16))]

    def test_names_every_finding_that_needs_it(self) -> None:
        series = PriceSeries("EUR", (dated("0.15"),), {})

        with pytest.raises(PriceGapsError) as refused:
            month_of(Leak("1", 10, on(11)), Leak("2", 4, on(12)), series=series)

        assert [key for key, _ in refused.value.gaps] == ["1", "2"]

    def test_recorded_later_was_missing_then(self) -> None:
        series = prices(dated("0.15", recorded_at=on(5, 7)))

        with pytest.raises(PriceGapsError):
            month_of(Leak("1", 10, on(11)), series=series)

    def test_voided_is_no_longer_in_force(self) -> None:
        wrong = DatedValue(Decimal("9.99"), on(12), on(12), void_at=on(13))

        found = month_of(Leak("1", 10, on(11)), series=prices(dated("0.15"), wrong))

        assert shown(found.total.accrued) == "86.40"

    def test_a_leak_that_ended_before_needs_no_price(self) -> None:
        known = prices(dated("0.15", on(16))).known(END_OF_JUNE)

        with pytest.raises(PriceGapError):
            known.cost_per_m3_at(AIR, on(15))
        assert known.cost_per_m3_at(AIR, on(16)) > 0

    @pytest.mark.parametrize("value", ["-0.01", "NaN", "Infinity"])
    def test_no_price_is_negative_or_no_number(self, value: str) -> None:
        with pytest.raises(ValueError, match="not below zero"):
            dated(value)
