"""What a supply can be: pressures, prices, shares and the energy of compression."""

from decimal import Decimal
from math import log

import pytest

from findings.supply.rules import (
    MONEY,
    Quantity,
    SupplyRefused,
    check_currency_of,
    check_gas_name,
    check_header,
    check_rating,
    check_source,
    check_specific_energy,
    check_value,
)

ATMOSPHERE_PA = 101_325.0
AIR = {"medium": "compressed_air", "pressure_gauge_pa": 700_000.0, "atmosphere_pa": ATMOSPHERE_PA}


def refusal(check, *args, **kwargs):
    """Return (member, code) of the refusal, or None."""
    try:
        check(*args, **kwargs)
    except SupplyRefused as refused:
        return refused.member, refused.code
    return None


class TestHeader:
    @pytest.mark.parametrize(
        ("medium", "gauge_pa", "code"),
        [
            ("compressed_air", 600_000.0, None),
            ("compressed_air", 0.0, "not_above_atmosphere"),
            ("compressed_air", -10.0, "not_above_atmosphere"),
            ("compressed_air", 41e6, "out_of_range"),
            ("compressed_air", float("nan"), "out_of_range"),
            ("compressed_air", float("inf"), "out_of_range"),
            ("vacuum", -80_000.0, None),
            ("vacuum", 10.0, "not_a_vacuum"),
            ("vacuum", 0.0, "not_a_vacuum"),
            ("vacuum", -ATMOSPHERE_PA, "not_a_vacuum"),
        ],
    )
    def test_lies_on_the_right_side_of_the_atmosphere(self, medium, gauge_pa, code):
        found = refusal(check_header, medium, gauge_pa, 293.15, atmosphere_pa=ATMOSPHERE_PA)

        assert found == (code and ("pressure_gauge_pa", code))

    @pytest.mark.parametrize("temperature_k", [20.0, 601.0, float("nan")])
    def test_has_a_temperature_in_kelvin(self, temperature_k):
        found = refusal(check_header, "nitrogen", 1e5, temperature_k, atmosphere_pa=ATMOSPHERE_PA)

        assert found == ("temperature_k", "out_of_range")


class TestGasName:
    def test_belongs_to_other_gases_only(self):
        assert refusal(check_gas_name, "other", "helium") is None
        assert refusal(check_gas_name, "other", "") == ("gas_name", "gas_name_missing")
        assert refusal(check_gas_name, "nitrogen", "helium") == ("gas_name", "gas_name_needless")


class TestValue:
    @pytest.mark.parametrize(
        ("quantity", "value", "code"),
        [
            ("electricity_price_per_kwh", "0.2", None),
            ("electricity_price_per_kwh", "0", None),
            ("electricity_price_per_kwh", "-0.1", "out_of_range"),
            ("gas_price_per_kg", "1e30", "out_of_range"),
            ("gas_price_per_kg", "NaN", "out_of_range"),
            ("gas_price_per_kg", "Infinity", "out_of_range"),
            ("pressurised_share", "1", None),
            ("pressurised_share", "1.01", "share_above_one"),
            ("specific_energy_j_per_m3", "0", "out_of_range"),
        ],
    )
    def test_can_be_one_of_its_quantity(self, quantity, value, code):
        assert refusal(check_value, Quantity(quantity), Decimal(value)) == (code and ("value", code))


class TestSpecificEnergy:
    # Least work of any compression: p1 ln(p2/p1) per inlet volume (isothermal, ideal gas; any textbook
    # of thermodynamics).
    LEAST = ATMOSPHERE_PA * log((ATMOSPHERE_PA + 700_000.0) / ATMOSPHERE_PA)
    # 40 kW per 100 cfm; 1 cfm is 0.3048^3 / 60 m3/s by definition of the foot.
    MOST = 40_000.0 / (100 * 0.3048**3 / 60)

    @pytest.mark.parametrize(
        ("factor", "of", "code"),
        [
            (0.99, "LEAST", "below_isothermal"),
            (1.01, "LEAST", None),
            (0.99, "MOST", None),
            (1.01, "MOST", "specific_power_too_high"),
        ],
    )
    def test_lies_between_least_work_and_forty_kilowatts(self, factor, of, code):
        found = refusal(check_specific_energy, factor * getattr(self, of), member="value", **AIR)

        assert found == (code and ("value", code))

    def test_is_not_judged_for_gases_drawn_in_at_unknown_pressure(self):
        assert refusal(check_specific_energy, 1.0, member="value", **{**AIR, "medium": "hydrogen"}) is None

    @pytest.mark.parametrize(
        ("energy", "code"),
        [
            (85_000.0, None),
            # Isothermal least work at 40 kPa absolute: 40 kJ/m3 × ln(101.325/40) = 37.18 kJ/m3, by hand.
            (37_300.0, None),
            (37_000.0, "below_isothermal"),
            (390_000.0, "not_a_vacuum_pump"),
        ],
    )
    def test_of_a_vacuum_is_a_pumps_per_inlet_volume_and_never_a_compressors(self, energy, code):
        vacuum = {**AIR, "medium": "vacuum", "pressure_gauge_pa": 40_000.0 - ATMOSPHERE_PA}

        found = refusal(check_specific_energy, energy, member="value", **vacuum)

        assert found == (code and ("value", code))

    def test_judges_no_vacuum_pump_by_its_plate(self):
        vacuum = {**AIR, "medium": "vacuum", "pressure_gauge_pa": -70_000.0}

        assert refusal(check_rating, 0.1, 2_000.0, **vacuum) is None

    def test_judges_a_machine_by_its_rating(self):
        # 60 kW for 10 m3/min is a common size; 6 kW for it would be below the least work.
        assert refusal(check_rating, 10 / 60, 60_000.0, **AIR) is None
        assert refusal(check_rating, 10 / 60, 6_000.0, **AIR) == ("rated_power_w", "below_isothermal")
        assert refusal(check_rating, 0.0, 6_000.0, **AIR) == ("rated_flow_m3_per_s", "out_of_range")
        assert refusal(check_rating, 1.0, float("inf"), **AIR) == ("rated_power_w", "out_of_range")


class TestSource:
    @pytest.mark.parametrize(
        ("quantity", "source", "year", "found"),
        [
            ("electricity_price_per_kwh", "contract", None, None),
            ("electricity_price_per_kwh", "  ", None, ("source", "source_missing")),
            ("grid_factor_kg_per_kwh", "agency", None, ("source_year", "source_year_missing")),
            ("grid_factor_kg_per_kwh", "agency", 2025, None),
            ("grid_factor_kg_per_kwh", "agency", 2028, ("source_year", "out_of_range")),
            ("grid_factor_kg_per_kwh", "agency", 1989, ("source_year", "out_of_range")),
        ],
    )
    def test_is_named_with_its_year(self, quantity, source, year, found):
        assert refusal(check_source, Quantity(quantity), source, year, this_year=2026) == found


class TestCurrency:
    @pytest.mark.parametrize("quantity", list(Quantity))
    def test_is_the_site_s_for_money_and_absent_for_the_rest(self, quantity):
        money = quantity in MONEY

        assert refusal(check_currency_of, quantity, "EUR", "EUR") == (
            None if money else ("currency", "currency_needless")
        )
        assert refusal(check_currency_of, quantity, "", "EUR") == (
            ("currency", "currency_missing") if money else None
        )

    def test_of_another_site_is_refused(self):
        found = refusal(check_currency_of, Quantity.GAS_PRICE_PER_KG, "USD", "EUR")

        assert found == ("currency", "currency_differs")
