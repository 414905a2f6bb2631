"""Every price and energy brought to a m3 at 1 bar, 20 °C."""

from decimal import Decimal

import pytest

from findings.kinds.base import Medium
from findings.kinds.pricing import (
    SupplyState,
    energy_per_m3,
    price_by_mass,
    price_by_volume,
    reference_density_kg_per_m3,
)
from findings.kinds.vacuum_leak import pump_inlet_flow_m3_per_s


def supply(medium: Medium, absolute_pa: float = 7e5, temperature_k: float = 293.15) -> SupplyState:
    return SupplyState(medium, "", absolute_pa, temperature_k)


class TestEnergy:
    def test_of_compressed_air_is_the_one_stated(self):
        assert energy_per_m3(supply(Medium.COMPRESSED_AIR), Decimal(390000)) == Decimal(390000)

    @pytest.mark.parametrize(("kilopascal", "ratio"), [(95, "1.0526"), (50, "2"), (40, "2.5"), (10, "10")])
    def test_of_a_vacuum_is_that_of_the_volume_at_the_pump(self, kilopascal, ratio):
        energy = energy_per_m3(supply(Medium.VACUUM, kilopascal * 1000.0), Decimal(90000))

        assert energy == pytest.approx(Decimal(ratio) * 90000, rel=Decimal("1e-4"))

    def test_of_a_vacuum_times_the_inflow_is_the_power_of_the_pump(self):
        inflow, inlet_pa, inlet_k = 0.002, 31325.0, 303.15
        stated = Decimal(85000)

        energy = energy_per_m3(supply(Medium.VACUUM, inlet_pa, inlet_k), stated)

        at_pump = pump_inlet_flow_m3_per_s(inflow, inlet_pa, inlet_k)
        assert float(energy) * inflow == pytest.approx(at_pump * 85000, rel=1e-12)

    def test_of_steam_prices_nothing(self):
        assert energy_per_m3(supply(Medium.STEAM), Decimal(390000)) is None

    def test_of_no_pressure_at_all_is_not_known(self):
        assert energy_per_m3(supply(Medium.VACUUM, 0.0), Decimal(90000)) is None


class TestPrice:
    def test_by_mass_becomes_one_by_volume(self):
        # Nitrogen: 28.0134 g/mol × 1e5 Pa / (8.314463 J/(mol K) × 293.15 K) = 1.1493 kg/m3, ideal gas law.
        assert round(price_by_mass(Medium.NITROGEN, "", Decimal(2)), 3) == Decimal("2.299")

    def test_by_mass_of_a_gas_without_data_is_not_known(self):
        assert price_by_mass(Medium.OTHER, "swamp vapour", Decimal(2)) is None

    def test_by_volume_of_a_gas_is_itself(self):
        assert price_by_volume(Medium.NITROGEN, Decimal(2)) == Decimal(2)

    def test_by_volume_of_steam_is_refused(self):
        assert price_by_volume(Medium.STEAM, Decimal(2)) is None


class TestDensity:
    def test_of_steam_is_that_of_an_ideal_vapour(self):
        # 0.01801528 kg/mol × 1e5 Pa / (8.314462618 J/(mol K) × 293.15 K), by hand.
        assert float(reference_density_kg_per_m3(Medium.STEAM)) == pytest.approx(0.739125, abs=2e-6)

    def test_of_compressed_air_is_dry_airs(self):
        # 1.1884 kg/m3 by the ideal gas law for dry air of 28.9647 g/mol.
        assert float(reference_density_kg_per_m3(Medium.COMPRESSED_AIR)) == pytest.approx(1.18835, abs=1e-4)
