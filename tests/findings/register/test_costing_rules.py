"""What a leak rate costs and emits by the values in force."""

from __future__ import annotations

from decimal import Decimal

import pytest

from findings.kinds.base import Medium
from findings.kinds.pricing import SupplyState
from findings.register.rules import cost_now
from findings.supply.rules import Quantity

RATE = Decimal(10) / Decimal(3600)
AIR = {
    Quantity.SPECIFIC_ENERGY_J_PER_M3: Decimal(390000),
    Quantity.ELECTRICITY_PRICE_PER_KWH: Decimal("0.18"),
    Quantity.GRID_FACTOR_KG_PER_KWH: Decimal("0.4"),
}


def supply(medium: Medium, gas_name: str = "", absolute_pa: float = 7e5) -> SupplyState:
    """Return a supply at 20 °C."""
    return SupplyState(medium, gas_name, absolute_pa, 293.15)


def without(quantity: Quantity) -> dict[Quantity, Decimal]:
    """Return the values of an air network but one."""
    return {name: value for name, value in AIR.items() if name is not quantity}


class TestCompressedAir:
    def test_costs_its_electricity(self):
        # 10 m3/h at 390 kJ/m3 (6.5 kW per m3/min) is 1.0833 kW.
        cost = cost_now(RATE, supply(Medium.COMPRESSED_AIR), AIR)

        assert cost.per_hour == pytest.approx(Decimal("0.195"), abs=Decimal("1e-20"))
        assert cost.per_year == pytest.approx(Decimal("1708.2"), abs=Decimal("1e-15"))

    def test_emits_by_the_grid_factor(self):
        cost = cost_now(RATE, supply(Medium.COMPRESSED_AIR), AIR)

        assert cost.co2e_kg_per_hour == pytest.approx(Decimal("0.43333333"), abs=Decimal("1e-7"))

    def test_counts_only_the_share_of_time_under_pressure(self):
        half = cost_now(
            RATE, supply(Medium.COMPRESSED_AIR), {**AIR, Quantity.PRESSURISED_SHARE: Decimal("0.5")}
        )

        assert half.per_hour == pytest.approx(Decimal("0.0975"), abs=Decimal("1e-20"))

    def test_without_a_price_has_none_and_says_which(self):
        cost = cost_now(RATE, supply(Medium.COMPRESSED_AIR), without(Quantity.ELECTRICITY_PRICE_PER_KWH))

        assert (cost.per_hour, cost.per_year) == (None, None)
        assert [reason.code for reason in cost.reasons] == ["electricity_price_missing"]

    def test_without_a_grid_factor_costs_but_tells_no_emission(self):
        cost = cost_now(RATE, supply(Medium.COMPRESSED_AIR), without(Quantity.GRID_FACTOR_KG_PER_KWH))

        assert cost.per_hour is not None
        assert cost.co2e_kg_per_hour is None

    def test_without_any_value_has_no_cost(self):
        assert cost_now(RATE, supply(Medium.COMPRESSED_AIR), {}).per_hour is None


class TestABoughtGas:
    def test_costs_its_price_per_cubic_metre(self):
        cost = cost_now(RATE, supply(Medium.NITROGEN), {Quantity.GAS_PRICE_PER_M3: Decimal("0.30")})

        assert cost.per_hour == pytest.approx(Decimal("3.00"), abs=Decimal("1e-20"))

    def test_priced_by_mass_goes_through_its_density(self):
        # Nitrogen at 1 bar and 20 °C: 28.0134 g/mol by 8.314463 J/(mol K), 1.1493 kg/m3.
        cost = cost_now(RATE, supply(Medium.NITROGEN), {Quantity.GAS_PRICE_PER_KG: Decimal(1)})

        assert cost.per_hour == pytest.approx(Decimal("11.493"), abs=Decimal("0.001"))

    def test_priced_by_mass_without_data_has_no_cost(self):
        cost = cost_now(
            RATE, supply(Medium.OTHER, "refrigerant seven"), {Quantity.GAS_PRICE_PER_KG: Decimal(1)}
        )

        assert [reason.code for reason in cost.reasons] == ["gas_unknown"]

    def test_adds_to_the_electricity_that_made_it(self):
        both = cost_now(RATE, supply(Medium.NITROGEN), {**AIR, Quantity.GAS_PRICE_PER_M3: Decimal("0.30")})

        assert both.per_hour == pytest.approx(Decimal("3.195"), abs=Decimal("1e-20"))

    def test_that_is_natural_gas_warms_as_fossil_methane(self):
        # Methane at 1 bar and 20 °C, 0.6582 kg/m3; 29.8 kg CO2e per kg (IPCC AR6).
        cost = cost_now(RATE, supply(Medium.NATURAL_GAS), {Quantity.GAS_PRICE_PER_M3: Decimal("0.50")})

        assert cost.co2e_kg_per_hour == pytest.approx(Decimal("196.1"), abs=Decimal("0.3"))


class TestVacuum:
    def test_costs_what_the_pump_takes_at_its_own_inlet(self):
        # 10 m3/h of free air at 40 kPa absolute are 25 m3/h at the pump; at 90 kJ per m3 of those 0.625 kW.
        vacuum = {**AIR, Quantity.SPECIFIC_ENERGY_J_PER_M3: Decimal(90000)}

        cost = cost_now(RATE, supply(Medium.VACUUM, absolute_pa=4e4), vacuum)

        assert cost.per_hour == pytest.approx(Decimal("0.1125"), abs=Decimal("1e-12"))

    def test_emits_by_the_same_power(self):
        vacuum = {**AIR, Quantity.SPECIFIC_ENERGY_J_PER_M3: Decimal(90000)}

        cost = cost_now(RATE, supply(Medium.VACUUM, absolute_pa=4e4), vacuum)

        assert cost.co2e_kg_per_hour == pytest.approx(Decimal("0.25"), abs=Decimal("1e-12"))


class TestSteam:
    def test_costs_its_mass_at_the_price_of_making_it(self):
        # Booked as ideal vapour: 0.018015 kg/mol × 1e5 Pa / (8.314463 J/(mol K) × 293.15 K) = 0.73912 kg/m3.
        rate = Decimal("0.005") / Decimal("0.7391248")

        cost = cost_now(rate, supply(Medium.STEAM), {Quantity.GAS_PRICE_PER_KG: Decimal("0.05")})

        assert cost.per_hour == pytest.approx(Decimal("0.9"), rel=Decimal("1e-5"))

    def test_is_never_priced_by_its_booked_volume(self):
        values = {**AIR, Quantity.GAS_PRICE_PER_M3: Decimal("0.30")}

        cost = cost_now(RATE, supply(Medium.STEAM), values)

        assert (cost.per_hour, cost.reasons[0].code) == (None, "gas_price_per_kg_missing")
