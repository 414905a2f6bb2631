"""What a month tells when a price or a factor is missing: the rest, and why not all."""

from datetime import date
from decimal import Decimal

import pytest

from tests.workorders.statements.histories import PRAGUE, Leak, dated, on, prices
from workorders.statements.rules import EventKind, MonthFigures, PriceSeries, month_figures, quantise

JUNE, END_OF_JUNE = date(2025, 6, 1), on(1, 7)


def month_of(*leaks: Leak, series: PriceSeries | None = None) -> MonthFigures:
    histories = [leak.history for leak in leaks]
    return month_figures(histories, series or prices(), JUNE, PRAGUE, END_OF_JUNE, strict=False)


class TestAMissingPrice:
    LATE = prices(dated("0.15", on(16)))

    def test_takes_the_money_that_needs_it(self) -> None:
        found = month_of(Leak("1", 10, on(11)), series=self.LATE)

        assert found.total.accrued is None
        assert "electricity price per kWh" in found.refused["accrued"]

    def test_leaves_the_counts(self) -> None:
        found = month_of(Leak("1", 10, on(11)), Leak("2", 4, on(20)), series=self.LATE)

        assert [found.total.found, found.total.open_end] == [2, 2]

    def test_leaves_the_money_of_other_findings_on_their_lines(self) -> None:
        found = month_of(Leak("1", 10, on(11)), Leak("2", 10, on(20)), series=self.LATE)

        assert [line.accrued is None for line in found.lines] == [True, False]

    def test_leaves_what_was_avoided_while_it_held(self) -> None:
        leak = Leak("1", 10, on(11)).repaired(on(20)).passed(on(21))

        found = month_of(leak, series=self.LATE)

        assert found.total.avoided_verified is not None
        assert "avoided" not in found.refused

    def test_is_named_once_with_all_its_time(self) -> None:
        found = month_of(Leak("1", 10, on(13)), Leak("2", 4, on(11)), series=self.LATE)

        assert found.refused["accrued"].count("No electricity") == 1
        assert "from 2025-06-10T22:00Z" in found.refused["accrued"]


class TestCo2e:
    def test_is_the_energy_times_the_factor_in_force(self) -> None:
        series = PriceSeries(
            "EUR",
            (dated("0.15"),),
            prices().systems,
            (dated("0.4"), dated("0.5", on(21))),
        )

        found = month_of(Leak("1", 10, on(11)), series=series)

        # 1.2 kWh an hour: 240 h at 0.4 kg and 240 h at 0.5 kg.
        assert found.total.co2e_kg is not None
        assert quantise(found.total.co2e_kg, 6) == Decimal("259.200000")

    def test_is_not_told_without_a_factor(self) -> None:
        found = month_of(Leak("1", 10, on(11)))

        assert found.total.co2e_kg is None
        assert "grid factor" in found.refused["co2e_kg"]

    def test_of_nothing_lost_is_nothing(self) -> None:
        assert month_of().total.co2e_kg == 0


class TestDeferredPart:
    def test_is_what_ran_while_it_waited(self) -> None:
        leak = Leak("1", 10, on(11)).happened(EventKind.DEFERRED, on(16))
        leak.happened(EventKind.DEFERRAL_ENDED, on(21))

        found = month_of(leak)

        # 10 m³/h at 0.018 a m³ for 120 h of the 480 h.
        assert found.total.accrued_deferred is not None
        assert quantise(found.total.accrued_deferred) == Decimal("21.60")

    @pytest.mark.parametrize("day", [1, 11])
    def test_is_nothing_without_a_deferral(self, day: int) -> None:
        assert month_of(Leak("1", 10, on(day))).total.accrued_deferred == 0


class TestAnEventTakenBack:
    def test_counts_no_more(self) -> None:
        earlier = Leak("1", 10, on(20, 5)).history.events[0]
        leak = Leak("1", 10, on(11))
        leak.events.append(
            type(earlier)(earlier.kind, earlier.at, on(12), void_at=on(14)),
        )

        assert month_of(leak).total.found == 1
