"""What would be: a lower pressure, repairs within a budget, a branch shut off, another tariff."""

from decimal import Decimal
from uuid import UUID

import pytest

from findings.balance.rules import (
    Basis,
    Effort,
    Shutting,
    Wish,
    best_repairs,
    lower_pressure,
    other_price,
    shut_branch,
)
from findings.kinds.base import Medium
from findings.physics.header_pressure import PointOfUse
from findings.physics.uncertainty import Uncertain
from findings.planning.repair_plan import Budget
from tests.findings.balance.now import BAR, Row, known, leak, measured, system

USUAL = Effort(Decimal(80), Decimal(2))


def codes(reasons):
    return [reason.code for reason in reasons]


class TestLowerHeaderPressure:
    def test_lets_the_measured_leakage_blow_less(self):
        now = system(leak(0.004), measured=measured(0.010))

        found = lower_pressure(now, 5 * BAR)

        # Choked: 6 bar absolute over 7. One seventh of 0.010 m3/s goes, three quarters of it answer:
        # at 0.05 m3/s the machine takes (0.25 + 0.75 x 0.5) of 36 kW = 22.5 kW.
        assert found.saving.leak_factor == pytest.approx(6 / 7)
        assert found.leakage == Uncertain(0.010, 0.0)
        expected = 22_500.0 * 0.75 * (0.010 / 0.05) / 7
        assert found.saving.less_flow.value == pytest.approx(expected)
        assert "leakage_from_test" in codes(found.reasons)

    def test_takes_the_findings_for_want_of_a_test_and_says_so(self):
        found = lower_pressure(system(leak(0.004)), 5 * BAR)

        assert found.leakage.value == pytest.approx(0.004)
        assert "leakage_from_findings" in codes(found.reasons)

    def test_comes_to_money_by_the_hours_under_pressure(self):
        whole = lower_pressure(system(leak(0.004)), 5 * BAR)
        half = lower_pressure(system(leak(0.004), known=known(pressurised_share="0.5")), 5 * BAR)

        kilowatts = Decimal(repr(whole.saving.together.value)) / 1000
        assert float(whole.yearly.value) == pytest.approx(float(kilowatts * 8760 * Decimal("0.20")))
        assert float(half.yearly.value) == pytest.approx(float(whole.yearly.value) / 2)
        assert whole.yearly.low < whole.yearly.value < whole.yearly.high

    def test_is_refused_where_a_user_would_starve(self):
        point = PointOfUse("the case packer", 5.5 * BAR)

        found = lower_pressure(system(leak(0.004)), 5 * BAR, [point])

        assert codes(found.saving.together.reasons) == ["too_little_pressure"]
        assert found.yearly.value is None

    @pytest.mark.parametrize(
        ("values", "code"),
        [
            ({"rows": ()}, "no_machine"),
            ({"known": known(mean_demand_m3_per_s=None)}, "demand_missing"),
            ({"known": known(mean_demand_m3_per_s="0.5")}, "demand_above_capacity"),
            ({"medium": Medium.NITROGEN}, "only_compressed_air"),
        ],
    )
    def test_is_refused_in_words(self, values, code):
        found = lower_pressure(system(leak(0.004), **values), 5 * BAR)

        assert codes(found.saving.together.reasons) == [code]

    def test_of_a_higher_pressure_is_refused(self):
        found = lower_pressure(system(leak(0.004)), 7 * BAR)

        assert codes(found.saving.together.reasons) == ["not_a_lower_pressure"]

    def test_cuts_a_leakage_above_the_demand(self):
        found = lower_pressure(system(measured=measured(0.08)), 5 * BAR)

        assert found.leakage.value == 0.05
        assert "leakage_above_demand" in codes(found.reasons)


class TestRepairPlan:
    # 0.0005 m3/s save 180 W x 0.75 at 0.20 per kWh: 236.52 a year.
    SMALL, LARGE = leak(0.0005, number=1), leak(0.002, number=2)

    def wish(self, money=None, hours=None, **values):
        return Wish(Budget(money and Decimal(money), hours and Decimal(hours)), USUAL, **values)

    def test_takes_what_gains_most_within_the_money(self):
        found = best_repairs(system(self.SMALL, self.LARGE), self.wish(money=100))

        assert [leak.number for leak, _ in found.chosen] == [2]
        assert found.plan.saving == Decimal("946.08")

    def test_takes_all_that_pays_when_nothing_limits(self):
        found = best_repairs(system(self.SMALL, self.LARGE), self.wish())

        assert [leak.number for leak, _ in found.chosen] == [1, 2]
        assert found.plan.is_proven

    def test_counts_the_hours(self):
        own = {self.LARGE.finding_id: Effort(Decimal(10), Decimal(9))}

        found = best_repairs(system(self.SMALL, self.LARGE), self.wish(hours=4, own=own))

        assert [leak.number for leak, _ in found.chosen] == [1]

    def test_counts_savings_over_the_years(self):
        one = best_repairs(system(self.LARGE), self.wish())
        three = best_repairs(system(self.LARGE), self.wish(years=Decimal(3)))

        assert three.plan.saving == 3 * one.plan.saving

    def test_counts_full_load_value_only_when_asked(self):
        expected = best_repairs(system(self.LARGE), self.wish())
        full = best_repairs(system(self.LARGE), self.wish(basis=Basis.FULL_LOAD))

        assert float(full.plan.saving * Decimal("0.75")) == pytest.approx(
            float(expected.plan.saving), abs=0.01
        )

    def test_repairs_a_safety_finding_whatever_it_saves(self):
        danger = leak(1e-6, number=9, is_safety=True)

        found = best_repairs(system(self.LARGE, danger), self.wish(money=100))

        assert 9 in [leak.number for leak, _ in found.chosen]

    def test_tells_what_all_save_together_with_its_interval(self):
        found = best_repairs(system(self.SMALL, self.LARGE), self.wish())

        # 0.0025 m3/s as one leak: 900 W x 0.75.
        assert found.together.value == pytest.approx(675.0)
        assert found.together.low < 675.0 < found.together.high
        assert float(found.yearly.value) == pytest.approx(0.675 * 8760 * 0.20)

    def test_is_refused_where_the_saving_cannot_be_told(self):
        found = best_repairs(system(self.LARGE, rows=()), self.wish())

        assert (found.plan, codes(found.reasons)) == (None, ["no_machine"])

    def test_is_refused_without_a_finding(self):
        assert codes(best_repairs(system(), self.wish()).reasons) == ["no_finding"]

    def test_says_when_nothing_pays(self):
        found = best_repairs(system(leak(1e-7)), self.wish())

        assert found.chosen == ()
        assert "nothing_pays" in codes(found.reasons)


class TestShutOff:
    HOURS = Shutting(Uncertain(2000.0))

    def test_saves_what_the_branchs_leaks_would_take(self):
        inside, outside = leak(0.002), leak(0.003, asset_id=UUID(int=9), area_id=UUID(int=8))

        found = shut_branch(system(inside, outside), self.HOURS, asset_ids={UUID(int=1)})

        # 0.72 kW x 0.75 x 2000 h.
        assert found.leaks == (inside,)
        assert found.energy.value == pytest.approx(1080.0)
        assert float(found.yearly.value) == pytest.approx(216.0)

    def test_takes_a_whole_area(self):
        inside, outside = leak(0.002), leak(0.003, area_id=UUID(int=8))

        assert shut_branch(system(inside, outside), self.HOURS, area_id=UUID(int=2)).leaks == (inside,)

    def test_counts_the_air_that_fills_it_again(self):
        without = shut_branch(system(leak(0.002)), self.HOURS, area_id=UUID(int=2))
        filled = Shutting(Uncertain(2000.0), refilled_m3=10.0, refills=250.0)

        found = shut_branch(system(leak(0.002)), filled, area_id=UUID(int=2))

        # 2500 m3 at 0.1 kWh, three quarters of it.
        assert found.energy.value == pytest.approx(without.energy.value - 187.5)

    @pytest.mark.parametrize(
        ("leaks", "values", "code"),
        [
            ((), {}, "no_finding_in_branch"),
            ((leak(0.002),), {"rows": ()}, "no_machine"),
            ((leak(0.002),), {"known": known(specific_energy_j_per_m3=None)}, "specific_energy_missing"),
        ],
    )
    def test_is_refused_in_words(self, leaks, values, code):
        found = shut_branch(system(*leaks, **values), self.HOURS, area_id=UUID(int=2))

        assert (found.energy.value, found.yearly.value) == (None, None)
        assert codes(found.energy.reasons) == [code]


class TestOtherTariff:
    def test_changes_both_figures_with_the_price(self):
        found = other_price(system(leak(0.002, 0.0002)), Decimal("0.30"))

        # 0.72 kW at full load over 8760 h.
        assert float(found.before.full_load.value) == pytest.approx(1261.44)
        assert float(found.after.full_load.value) == pytest.approx(1892.16)
        assert float(found.difference.full_load.value) == pytest.approx(630.72)
        assert float(found.difference.expected.value) == pytest.approx(473.04)

    def test_of_a_lower_price_keeps_its_interval_the_right_way_round(self):
        found = other_price(system(leak(0.002, 0.0002)), Decimal("0.10")).difference.expected

        assert found.low < found.value < found.high < 0

    def test_tells_the_new_cost_where_no_price_was_in_force(self):
        now = system(leak(0.002), known=known(electricity_price_per_kwh=None))

        found = other_price(now, Decimal("0.30"))

        assert found.after.full_load.value is not None
        assert codes(found.difference.full_load.reasons) == ["electricity_price_missing"]

    def test_tells_no_expected_figure_without_machines(self):
        found = other_price(system(leak(0.002), rows=()), Decimal("0.30"))

        assert found.after.full_load.value is not None
        assert codes(found.after.expected.reasons) == ["no_machine"]

    def test_is_refused_without_a_finding(self):
        assert codes(other_price(system(), Decimal("0.30")).after.full_load.reasons) == ["no_finding"]


def test_two_machines_out_of_order_give_no_figure():
    rows = (Row(), Row("C-2", load_order=None))

    found = lower_pressure(system(leak(0.004), rows=rows), 5 * BAR)

    assert codes(found.saving.together.reasons) == ["load_order_missing"]
