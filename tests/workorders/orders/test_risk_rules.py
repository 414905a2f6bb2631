"""What a finding puts at risk, in steps and in money."""

from dataclasses import replace
from decimal import Decimal

import pytest

from findings.kinds.base import Hazard as Danger
from findings.kinds.base import Kind, Medium
from findings.plant.rules import Criticality
from workorders.orders.rules import (
    HAZARD_FLOORS,
    ConsequenceArea,
    Prices,
    condition_of,
    daily_cost,
    harms_of,
    hazard_of,
    rate_that_costs,
)

AIR = Prices(
    electricity_per_kwh=Decimal("0.20"),
    specific_energy_j_per_m3=Decimal(360_000),
    pressurised_share=Decimal("0.5"),
)
RATE = Decimal("0.01")


class TestHazard:
    @pytest.mark.parametrize(
        ("danger", "medium", "hazard"),
        [
            (Danger.GAS, Medium.NATURAL_GAS, "fuel_gas"),
            (Danger.GAS, Medium.HYDROGEN, "fuel_gas"),
            (Danger.GAS, Medium.OTHER, "toxic"),
            (Danger.OXYGEN, Medium.OXYGEN, "oxygen"),
            (Danger.INERT, Medium.NITROGEN, "suffocation"),
            (Danger.STEAM, Medium.STEAM, "steam"),
            (Danger.ELECTRICAL, None, "discharge"),
        ],
    )
    def test_of_a_danger_sets_a_floor(self, danger: Danger, medium: Medium | None, hazard: str) -> None:
        found = hazard_of(danger, medium)

        assert found == hazard
        assert found in HAZARD_FLOORS

    @pytest.mark.parametrize("danger", [Danger.NONE, Danger.PRESSURE, Danger.VACUUM, Danger.ROTATION])
    def test_of_the_rest_sets_none(self, danger: Danger) -> None:
        assert hazard_of(danger, None) is None


class TestHarms:
    @pytest.mark.parametrize(("criticality", "step"), [("A", 4), ("B", 3), ("C", 2)])
    def test_of_wear_follow_the_criticality(self, criticality: str, step: int) -> None:
        harms = harms_of(Kind.MECHANICAL_WEAR, None, Criticality(criticality), is_safety=False)

        assert harms[ConsequenceArea.PRODUCTION] == step

    @pytest.mark.parametrize(("criticality", "step"), [("A", 3), ("B", 2), ("C", 1)])
    def test_of_a_leak_are_a_step_lower(self, criticality: str, step: int) -> None:
        harms = harms_of(Kind.PRESSURE_LEAK, Medium.COMPRESSED_AIR, Criticality(criticality), is_safety=False)

        assert harms[ConsequenceArea.PRODUCTION] == step

    def test_to_people_are_the_highest(self) -> None:
        harms = harms_of(Kind.PRESSURE_LEAK, Medium.NATURAL_GAS, Criticality.C, is_safety=True)

        assert (harms[ConsequenceArea.SAFETY], harms[ConsequenceArea.ENVIRONMENT]) == (5, 3)


class TestCondition:
    @pytest.mark.parametrize(
        ("l_per_min", "step"), [("1", 1), ("2", 1), ("3", 2), ("40", 3), ("41", 4), ("121", 5)]
    )
    def test_by_leak_rate(self, l_per_min: str, step: int) -> None:
        rate = Decimal(l_per_min) / 60_000

        assert condition_of(severity=None, leak_rate_m3_per_s=rate, level_db=None)[0] == step

    def test_takes_the_worse_of_rate_and_word(self) -> None:
        assert condition_of(severity=4, leak_rate_m3_per_s=Decimal(0), level_db=90.0)[0] == 4

    def test_by_level_alone_says_so(self) -> None:
        step, reason = condition_of(severity=None, leak_rate_m3_per_s=None, level_db=40.0)

        assert (step, reason and reason.code) == (3, "by_level")

    def test_not_known_is_the_middle_and_says_so(self) -> None:
        step, reason = condition_of(severity=None, leak_rate_m3_per_s=None, level_db=None)

        assert (step, reason and reason.code) == (3, "condition_unknown")


class TestDailyCost:
    def test_is_power_times_price_times_hours_under_pressure(self) -> None:
        # 0.01 m3/s x 360 kJ/m3 = 3.6 kW; x 24 h x 0.5 x 0.20 per kWh.
        assert daily_cost(RATE, AIR) == (Decimal("8.64"), None)

    def test_of_a_bought_gas_is_volume_times_price(self) -> None:
        cost, _ = daily_cost(RATE, Prices(gas_per_m3=Decimal("0.30"), pressurised_share=Decimal(1)))

        assert cost == Decimal("259.2")

    @pytest.mark.parametrize(
        ("rate", "prices", "code"),
        [
            (None, AIR, "rate_missing"),
            (RATE, Prices(), "price_missing"),
            (RATE, Prices(specific_energy_j_per_m3=Decimal(360_000)), "price_missing"),
        ],
    )
    def test_is_not_made_from_a_missing_part(self, rate: Decimal | None, prices: Prices, code: str) -> None:
        cost, reason = daily_cost(rate, prices)

        assert (cost, reason and reason.code) == (None, code)

    def test_of_a_gas_made_here_and_bought_adds_both_up(self) -> None:
        both = replace(AIR, gas_per_m3=Decimal("0.30"))

        # 8.64 of electricity as above, and 0.01 m3/s x 86 400 s x 0.5 x 0.30.
        assert daily_cost(RATE, both) == (Decimal("138.24"), None)

    def test_without_a_share_runs_all_day_and_says_so(self) -> None:
        cost, reason = daily_cost(RATE, Prices(gas_per_m3=Decimal(1)))

        assert (cost, reason and reason.code) == (Decimal(864), "share_assumed")

    def test_reaches_a_limit_at_the_rate_that_costs_it(self) -> None:
        rate = rate_that_costs(Decimal("8.64"), AIR)

        assert rate == RATE

    def test_has_no_such_rate_without_prices(self) -> None:
        assert rate_that_costs(Decimal(5), Prices()) is None
