"""CO2 of a gas that is burnt."""

from decimal import Decimal

import pytest

from findings.physics.combustion import burnt_co2_kg_per_kg


class TestBurnt:
    @pytest.mark.parametrize(("gas", "factor"), [("methane", "2.743"), ("propane", "2.994")])
    def test_gives_the_carbon_as_carbon_dioxide(self, gas, factor):
        # Derived: 44.01/16.04 and 3 · 44.01/44.10.
        assert burnt_co2_kg_per_kg(gas) == pytest.approx(Decimal(factor), abs=Decimal("0.0006"))

    def test_of_hydrogen_gives_none(self):
        assert burnt_co2_kg_per_kg("hydrogen") is None
