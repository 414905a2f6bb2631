"""What a repair is expected to save: by the machine that trims, or not told at all."""

from dataclasses import replace
from decimal import Decimal

import pytest

from findings.kinds.base import Medium
from findings.kinds.pricing import SupplyState
from findings.register.rules import LeakRate, finding_cost
from findings.supply.rules import Quantity, station_of
from tests.findings.station import Row, known

RATE = Decimal("0.0025")
REFERENCE_PA = 100_000.0


def station(*rows, storage_m3=None):
    return station_of(rows, storage_m3=storage_m3, atmosphere_pa=REFERENCE_PA)


def supply(medium=Medium.COMPRESSED_AIR):
    return SupplyState(medium, "", 8 * REFERENCE_PA, 293.15)


def cost(*rows, medium=Medium.COMPRESSED_AIR, storage_m3=None, **values):
    return finding_cost(
        LeakRate(RATE), supply(medium), known(**values), station(*rows, storage_m3=storage_m3)
    )


def codes(figure):
    return [reason.code for reason in figure.reasons]


class TestExpectedSaving:
    def test_is_the_slope_of_the_trimming_machine(self):
        found = cost(Row())

        # 0.0025 m3/s at 360 kJ/m3 are 900 W at full load; three quarters of it answer.
        assert found.full_load.per_hour == Decimal("0.18")
        assert float(found.expected.per_hour) == pytest.approx(0.135)
        assert float(found.expected.co2e_kg_per_hour) == pytest.approx(0.27)

    def test_is_nothing_at_a_machine_that_cannot_turn_down(self):
        # It takes full power even when it delivers nothing.
        fixed = Row("C-0", unloaded_share=1.0)

        assert float(cost(fixed).expected.per_hour) == pytest.approx(0.0, abs=1e-9)

    def test_comes_from_the_second_machine_when_the_first_runs_full(self):
        base = Row("C-1", unloaded_share=0.25, load_order=1)
        trim = Row("C-2", "start_stop", load_order=2, unloaded_share=None)

        found = cost(base, trim, mean_demand_m3_per_s="0.15")

        assert float(found.expected.per_hour) == pytest.approx(0.18)
        assert "base_machines_save_nothing" in codes(found.expected)

    def test_runs_only_while_there_is_pressure(self):
        whole, half = cost(Row()), cost(Row(), pressurised_share="0.5")

        assert half.expected.per_hour == whole.expected.per_hour / 2

    @pytest.mark.parametrize(
        ("rows", "values", "code"),
        [
            ((), {}, "no_machine"),
            ((Row(),), {"mean_demand_m3_per_s": None}, "demand_missing"),
            ((Row(), Row("C-2", load_order=None)), {}, "load_order_missing"),
            ((Row(),), {"mean_demand_m3_per_s": "0.5"}, "demand_above_capacity"),
            ((Row(),), {"mean_demand_m3_per_s": "0.001"}, "leak_above_demand"),
            ((Row(),), {"electricity_price_per_kwh": None}, "electricity_price_missing"),
        ],
    )
    def test_is_not_told_without(self, rows, values, code):
        found = cost(*rows, **values)

        assert found.expected.per_hour is None
        assert code in codes(found.expected)

    def test_is_never_the_full_load_value_for_want_of_machines(self):
        found = cost()

        assert found.full_load.per_hour is not None
        assert found.expected.per_hour is None

    def test_takes_unknown_storage_as_ample_and_says_so(self):
        assert "storage_unknown" in codes(cost(Row()).expected)
        assert "storage_unknown" not in codes(cost(Row(), storage_m3=5.0).expected)

    def test_says_where_ratings_and_the_stated_energy_differ(self):
        assert "specific_energy_differs" in codes(cost(Row(), specific_energy_j_per_m3="420000").expected)
        assert "specific_energy_differs" not in codes(cost(Row()).expected)

    def test_shows_no_trace_of_a_spread_that_is_not_shown(self):
        assert "monte_carlo" not in codes(cost(Row("V", "variable_speed", unloaded_share=None)).expected)

    def test_of_bought_gas_is_the_whole_of_it(self):
        only_gas = dict.fromkeys(("specific_energy_j_per_m3", "mean_demand_m3_per_s"))
        found = cost(medium=Medium.NITROGEN, gas_price_per_m3="0.30", **only_gas)

        # 9 m3 an hour at 0.30.
        assert (found.full_load.per_hour, found.expected.per_hour) == (Decimal("2.7"), Decimal("2.7"))
        assert codes(found.expected) == ["bought_gas_saved_whole"]

    def test_of_a_vacuum_is_not_worked_out(self):
        assert codes(cost(Row(), medium=Medium.VACUUM).expected) == ["vacuum_not_modelled"]


class TestIntervals:
    def test_are_told_where_the_rate_has_one(self):
        rate = LeakRate(RATE, RATE * Decimal("0.8"), RATE * Decimal("1.2"))
        found = finding_cost(rate, supply(), known(), station(Row()))

        assert (found.full_load.low_per_hour, found.full_load.high_per_hour) == (
            Decimal("0.144"),
            Decimal("0.216"),
        )
        assert found.expected.low_per_hour < found.expected.per_hour < found.expected.high_per_hour

    def test_of_an_uncertain_rate_say_how_they_were_drawn(self):
        rate = LeakRate(RATE, RATE * Decimal("0.2"), RATE * Decimal("1.8"))
        found = finding_cost(rate, supply(), known(), station(Row()))

        assert "monte_carlo" in codes(found.expected)

    def test_are_left_out_where_none_is_asked_for(self):
        assert cost(Row()).expected.low_per_hour is None
        assert cost(Row()).full_load.high_per_year is None

    def test_of_bought_gas_go_with_the_rate(self):
        rate = LeakRate(RATE, RATE / 2, RATE * 2)
        only_gas = dict.fromkeys(("specific_energy_j_per_m3", "mean_demand_m3_per_s"))
        values = known(gas_price_per_m3="0.30", **only_gas)

        found = finding_cost(rate, supply(Medium.NITROGEN), values, station())

        assert (found.expected.low_per_hour, found.expected.high_per_hour) == (
            Decimal("1.35"),
            Decimal("5.4"),
        )


class TestWhatTheFiguresStandOn:
    def test_are_the_prices_in_force(self):
        (price,) = cost(Row()).prices

        assert (price.quantity, price.value, price.source) == (
            Quantity.ELECTRICITY_PRICE_PER_KWH,
            Decimal("0.20"),
            "station log",
        )

    def test_are_the_emission_factors_with_source_and_year(self):
        (grid,) = cost(Row()).factors

        assert (grid.value, grid.source, grid.year) == (Decimal("0.40"), "station log", 2026)

    def test_is_the_warming_of_the_gas_that_escapes(self):
        only_gas = dict.fromkeys(("specific_energy_j_per_m3", "mean_demand_m3_per_s"))
        (methane,) = cost(medium=Medium.NATURAL_GAS, gas_price_per_m3="0.50", **only_gas).factors

        # IPCC AR6, fossil methane: 29.8.
        assert (methane.value, methane.year) == (Decimal("29.8"), 2021)


def test_a_machine_outside_its_place_changes_who_trims():
    first, second = Row("C-1"), Row("C-2", "start_stop", unloaded_share=None, load_order=2)
    swapped = [replace(second, load_order=1), replace(first, load_order=2)]

    as_is = finding_cost(LeakRate(RATE), supply(), known(), station(first, second))
    other = finding_cost(LeakRate(RATE), supply(), known(), station(*swapped))

    assert other.expected.per_hour > as_is.expected.per_hour
