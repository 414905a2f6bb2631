"""Exact cost and emissions of a loss."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.kinds import cost

AMOUNT = st.decimals(min_value=0, max_value=10**9, places=12)


class TestCostPerHour:
    def test_is_flow_times_energy_times_price(self):
        # 0.01 m3/s at 360 kJ/m3 is 3.6 kW; at 0.25 per kWh 0.90 an hour.
        assert cost.cost_per_hour(Decimal("0.01"), Decimal(360000), Decimal("0.25")) == Decimal("0.9")

    @given(AMOUNT, AMOUNT, AMOUNT)
    def test_loses_no_digit(self, flow, energy, price):
        exact = cost.cost_per_hour(flow, energy, price)

        assert Fraction(exact) == Fraction(flow) * Fraction(energy) * Fraction(price) / 1000

    @given(AMOUNT, AMOUNT, AMOUNT, AMOUNT)
    def test_adds_up(self, first, second, energy, price):
        both = cost.cost_per_hour(cost.EXACT.add(first, second), energy, price)
        parts = (cost.cost_per_hour(flow, energy, price) for flow in (first, second))

        assert both == cost.EXACT.add(*parts)


class TestOtherCosts:
    def test_of_steam_goes_by_mass(self):
        assert cost.mass_cost_per_hour(Decimal("0.01"), Decimal("0.05")) == Decimal("1.8")

    def test_of_bought_gas_goes_by_volume(self):
        assert cost.volume_cost_per_hour(Decimal("0.001"), Decimal("0.5")) == Decimal("1.8")

    def test_of_fuel_without_energy_is_refused(self):
        with pytest.raises(ArithmeticError):
            cost.price_per_energy(Decimal(1), Decimal(0))


class TestEmissions:
    def test_of_electricity_go_by_the_grid_factor(self):
        assert cost.co2e_kg_per_hour(Decimal(3600), Decimal("0.4")) == Decimal("1.44")

    def test_of_vented_gas_go_by_its_warming_potential(self):
        assert cost.vented_co2e_kg_per_hour(Decimal("0.001"), Decimal("29.8")) == Decimal("107.28")
