"""Units: exact factors, usual spellings, field names of the other systems."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics import quantities
from findings.physics.unit_table import ROWS

# From the defining constants: 1 in = 0.0254 m, 1 lb = 0.45359237 kg, g = 9.80665 m/s2, 1 US gal = 231 in3;
# NIST SP 811 appendix B prints the same digits (from memory).
FACTORS = [
    ("psi", "Pa", 6894.757293168362),
    ("bar", "psi", 14.503773773020923),
    ("inHg", "Pa", 3386.388640341),
    ("atm", "bar", 1.01325),
    ("cfm", "m3/s", 4.719474432e-4),
    ("m3/min", "cfm", 35.31466672148859),
    ("l/s", "m3/h", 3.6),
    ("gal", "m3", 0.003785411784),
    ("ft", "m", 0.3048),
    ("hp", "W", 745.6998715822702),
    ("lb/h", "kg/s", 1.2599788055555556e-4),
    ("kWh", "J", 3.6e6),
    ("therm", "MJ", 105.505585262),
    ("kW/(m3/min)", "kWh/m3", 1 / 60),
    ("kW/100 cfm", "kW/(m3/min)", 0.3531466672148859),
    ("rpm", "Hz", 1 / 60),
    ("in/s", "mm/s", 25.4),
]

SPELLINGS = [
    ("psi", "psi", None),
    ("PSI", "psi", None),
    ("psig", "psig", "gauge"),
    ("psi gauge", "psig", "gauge"),
    ("psia", "psia", "absolute"),
    ("bar(g)", "bar(g)", "gauge"),
    ("barg", "bar(g)", "gauge"),
    ("bar_g", "bar(g)", "gauge"),
    ("bar abs", "bar(a)", "absolute"),
    ("kPa", "kPa", None),
    ("°F", "°F", None),
    ("degF", "°F", None),
    ("℃", "°C", None),
    ("ft", "ft", None),
    ("m", "m", None),
    ("cfm", "cfm", None),
    ("CFM", "cfm", None),
    ("scfm", "scfm", "standard"),
    ("L/min", "l/min", None),
    ("lpm", "l/min", None),
    ("litres per minute", "l/min", None),
    ("Nl/min", "Nl/min", "normal"),
    ("m³/h", "m3/h", None),
    ("m^3/hr", "m3/h", None),
    ("cbm/h", "m3/h", None),
    ("Nm³/h", "Nm3/h", "normal"),
    ("m3/min FAD", "m3/min FAD", "free air"),
    ("kW/100cfm", "kW/100 cfm", None),
]


class TestFactors:
    @pytest.mark.parametrize(("unit", "to", "expected"), FACTORS)
    def test_are_those_of_the_defining_constants(self, unit, to, expected):
        assert quantities.convert(1.0, unit, to) == pytest.approx(expected, rel=1e-14)

    def test_stay_exact_in_decimals(self):
        assert quantities.convert(Decimal("2.5"), "in", "mm") == Decimal("63.5")

    def test_shift_the_zero_of_a_temperature(self):
        assert quantities.convert(68.0, "°F", "K") == 293.15

    @given(
        value=st.floats(min_value=-1e9, max_value=1e9),
        row=st.sampled_from([row for row in ROWS if row.dimension != "temperature"]),
    )
    def test_round_trip(self, value, row):
        unit = quantities.parse_unit(row.symbol)
        si = quantities.convert(value, unit, quantities.SI_UNITS[row.dimension])

        back = quantities.convert(si, quantities.SI_UNITS[row.dimension], unit)

        assert back == pytest.approx(value, rel=1e-15, abs=1e-300)

    @given(st.floats(min_value=-459.67, max_value=1e6))
    def test_round_trip_a_temperature(self, value):
        kelvin = quantities.convert(value, "°F", "K")

        assert quantities.convert(kelvin, "K", "°F") == pytest.approx(value, rel=1e-12, abs=1e-10)

    @pytest.mark.parametrize(
        "value", [math.nan, math.inf, 1e300, Decimal("1e999999"), Decimal("1e-999999"), Decimal("NaN")]
    )
    def test_refuse_a_number_without_a_sane_size(self, value):
        with pytest.raises(ValueError, match="sane size"):
            quantities.convert(value, "bar", "Pa")


class TestParseUnit:
    @pytest.mark.parametrize(("text", "symbol", "reference"), SPELLINGS)
    def test_understands(self, text, symbol, reference):
        unit = quantities.parse_unit(text)

        assert (unit.symbol, unit.reference) == (symbol, reference)

    def test_suggests_the_nearest_units(self):
        with pytest.raises(quantities.UnknownUnit) as refusal:
            quantities.parse_unit("psgi")

        assert "psig" in refusal.value.suggestions

    def test_refuses_milli_or_mega(self):
        with pytest.raises(quantities.UnknownUnit, match="mPa, MPa"):
            quantities.parse_unit("mpa")

    @pytest.mark.parametrize("text", ["", "\x00", "🙂", "x" * 5000])
    def test_refuses_noise(self, text):
        with pytest.raises(quantities.UnknownUnit):
            quantities.parse_unit(text)

    def test_gives_every_spelling_one_meaning(self):
        meanings: dict[str, set[str]] = {}
        for row in ROWS:
            for spelling in row.spellings:
                meanings.setdefault(quantities.spelling_key(spelling), set()).add(row.symbol)

        assert {key: symbols for key, symbols in meanings.items() if len(symbols) > 1} == {}


class TestPressure:
    def test_keeps_gauge_apart_from_absolute(self):
        with pytest.raises(quantities.IncompatibleUnits):
            quantities.convert(100.0, "psig", "psia")

    def test_becomes_absolute_over_a_stated_atmosphere(self):
        assert quantities.gauge_to_absolute_pa(700000.0, 101325.0) == 801325.0

    def test_becomes_gauge_again(self):
        assert quantities.absolute_to_gauge_pa(801325.0, 101325.0) == 700000.0

    # ASHRAE Handbook of Fundamentals, psychrometrics, standard atmosphere (values from memory).
    @pytest.mark.parametrize(("altitude_m", "expected"), [(0.0, 101325), (1000.0, 89874), (2000.0, 79495)])
    def test_of_the_atmosphere_falls_with_altitude(self, altitude_m, expected):
        assert quantities.standard_atmosphere_pa(altitude_m) == pytest.approx(expected, abs=1.0)

    @pytest.mark.parametrize("altitude_m", [-501.0, 11001.0, math.nan])
    def test_of_the_atmosphere_is_not_extrapolated(self, altitude_m):
        with pytest.raises(ValueError, match="altitude"):
            quantities.standard_atmosphere_pa(altitude_m)


class TestRendering:
    @pytest.mark.parametrize(
        ("field", "system", "value", "name", "expected"),
        [
            ("pressure_gauge_pa", "us", 689475.7293168361, "pressure_psig", 100.0),
            ("atmosphere_absolute_pa", "us", 101325.0, "atmosphere_psia", 14.695948775513448),
            ("pressure_gauge_pa", "metric", 700000.0, "pressure_bar_g", 7.0),
            ("flow_m3_per_s", "us", 4.719474432e-4, "flow_cfm", 1.0),
            ("flow_m3_per_s", "metric", 0.001, "flow_m3_per_h", 3.6),
            ("temperature_k", "us", 293.15, "temperature_f", 68.0),
            ("temperature_k", "metric", 293.15, "temperature_celsius", 20.0),
            ("temperature_u_k", "us", 5.0, "temperature_u_f", 9.0),
            ("distance_m", "us", 3.048, "distance_ft", 10.0),
            ("diameter_m", "metric", 0.0016, "diameter_mm", 1.6),
            ("receiver_volume_m3", "us", 0.028316846592, "receiver_volume_ft3", 1.0),
            ("specific_energy_j_per_m3", "metric", 360000.0, "specific_energy_kwh_per_m3", 0.1),
        ],
    )
    def test_renames_and_converts(self, field, system, value, name, expected):
        shown, rendering = quantities.rendering_of(field, system)

        assert (shown, rendering.render(value)) == (name, pytest.approx(expected, rel=1e-12))

    @pytest.mark.parametrize("field", ["price_per_m3", "price_per_kg", "name", "level_db", "created_at"])
    def test_leaves_alone(self, field):
        assert quantities.rendering_of(field, "us") is None

    def test_leaves_lengths_alone_in_metric(self):
        assert quantities.rendering_of("distance_m", "metric") is None
