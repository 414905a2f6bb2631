"""The calculations offered by name."""

import json

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.kinds.calculations import CALCULATIONS, InvalidInput, UnknownCalculation, calculate

EACH = pytest.mark.parametrize("calculation", CALCULATIONS.values(), ids=lambda calculation: calculation.name)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


def problems_of(name, data):
    with pytest.raises(InvalidInput) as refusal:
        calculate(name, data)
    return dict(refusal.value.problems)


class TestEveryCalculation:
    @EACH
    def test_runs_its_example_into_plain_json(self, calculation):
        result = calculate(calculation.name, dict(calculation.example))

        assert json.loads(json.dumps(result, allow_nan=False)) == result

    @EACH
    def test_has_valid_schemas(self, calculation):
        jsonschema.Draft202012Validator.check_schema(dict(calculation.schema))
        jsonschema.Draft202012Validator.check_schema(dict(calculation.answer))

    @EACH
    def test_describes_every_figure_of_its_answer(self, calculation):
        result = calculate(calculation.name, dict(calculation.example))

        jsonschema.validate(result, dict(calculation.answer))
        assert all(field.get("description") for field in calculation.answer["properties"].values())

    @EACH
    def test_names_each_missing_input(self, calculation):
        problems = problems_of(calculation.name, {})

        assert set(problems) == {f"/{name}" for name in calculation.schema["required"]}

    @EACH
    def test_refuses_an_input_it_does_not_know(self, calculation):
        problems = problems_of(calculation.name, {**calculation.example, "a/b~c": 1})

        assert problems == {"/a~1b~0c": "is not an input of this calculation"}

    @EACH
    @given(data=st.data())
    def test_answers_or_refuses_whatever_comes(self, calculation, data):
        fields = {
            name: JSON | st.just(calculation.example.get(name)) for name in calculation.schema["properties"]
        }
        received = dict(calculation.example) | data.draw(st.fixed_dictionaries({}, optional=fields))
        try:
            result = calculate(calculation.name, received)
        except InvalidInput as refusal:
            result = {"problems": refusal.problems}

        assert json.dumps(result, allow_nan=False)

    @pytest.mark.parametrize("data", [None, [], "text", 1, True])
    def test_wants_an_object(self, data):
        assert problems_of("orifice-flow", data) == {"": "must be an object"}

    @pytest.mark.parametrize("name", ["", "orifice_flow", "\x00", "x" * 1000])
    def test_is_found_by_its_exact_name_only(self, name):
        with pytest.raises(UnknownCalculation):
            calculate(name, {})


class TestOrificeFlow:
    def test_gives_volume_and_mass(self):
        # Computed: 1.48556 g/s and 75.006 l/min through 1 mm at 7 bar gauge, coefficient 1.
        result = calculate(
            "orifice-flow", {"diameter_m": 0.001, "pressure_gauge_pa": 700000, "discharge_coefficient": 1}
        )

        assert (result["mass_flow_kg_per_s"], result["flow_m3_per_s"]) == pytest.approx(
            (1.48556e-3, 75.006 / 60000), rel=1e-5
        )

    def test_is_refused_with_reasons(self):
        result = calculate("orifice-flow", {"diameter_m": 0.001, "pressure_gauge_pa": -100})

        assert (result["flow_m3_per_s"], result["status"]) == (None, "refused")

    @pytest.mark.parametrize(
        ("field", "value"),
        [
            ("diameter_m", float("nan")),
            ("diameter_m", 10**30),
            ("diameter_m", "0.001"),
            ("diameter_m", True),
            ("gas", "phlogiston"),
            ("gas", "air\x00"),
            ("edge", ["sharp"]),
            ("temperature_k", 0),
        ],
    )
    def test_says_which_input_is_wrong(self, field, value):
        problems = problems_of("orifice-flow", {"diameter_m": 0.001, "pressure_gauge_pa": 7e5, field: value})

        assert list(problems) == [f"/{field}"]


class TestLeakCost:
    BASE = {"flow_m3_per_s": "0.01", "price_per_kwh": "0.25", "currency": "EUR"}

    def test_of_ten_litres_a_second(self):
        result = calculate(
            "leak-cost", self.BASE | {"specific_energy_j_per_m3": 360000, "hours_per_year": 1000}
        )

        assert (result["power_w"], result["cost_per_hour"], result["cost_per_year"]) == (
            "3600.000",
            "0.900000",
            "900.00",
        )

    @pytest.mark.parametrize(
        "unit", [{"specific_power_kw_per_m3_per_min": 6}, {"specific_energy_j_per_m3": 360000}]
    )
    def test_is_the_same_in_every_unit(self, unit):
        assert calculate("leak-cost", self.BASE | unit)["cost_per_hour"] == "0.900000"

    @pytest.mark.parametrize(
        "energies", [{}, {"specific_power_kw_per_m3_per_min": 6, "specific_energy_j_per_m3": 360000}]
    )
    def test_wants_exactly_one_specific_energy(self, energies):
        assert "exactly one" in problems_of("leak-cost", self.BASE | energies)["/specific_energy_j_per_m3"]

    def test_shows_full_load_and_expected_value_apart(self):
        result = calculate(
            "leak-cost", self.BASE | {"specific_energy_j_per_m3": 360000, "marginal_factor": "0.3"}
        )

        assert (result["cost_per_hour"], result["expected_cost_per_hour"]) == ("0.900000", "0.270000")


class TestPressureDecay:
    def test_gives_the_published_mean(self):
        # NAVFAC MO-209: 90 to 80 psig in 10.7 min is 40 scfm; 629 ft3 inferred from its tables.
        result = calculate(
            "pressure-decay",
            {
                "volume_m3": 17.8113,
                "start_gauge_pa": 620528.2,
                "end_gauge_pa": 551580.6,
                "duration_s": 642.0,
                "atmosphere_absolute_pa": 101352.93,
                "reference_state": "us_68f",
            },
        )

        assert result["mean_flow_m3_per_s"] == pytest.approx(40 * 4.719474e-4, rel=0.006)

    def test_shows_the_convention_for_a_fall_to_half(self):
        result = calculate(
            "pressure-decay",
            {"volume_m3": 4, "start_gauge_pa": 700000, "end_gauge_pa": 350000, "duration_s": 600},
        )

        assert result["convention_flow_m3_per_s"] == pytest.approx(1.25 * result["mean_flow_m3_per_s"])


class TestLoadUnload:
    def test_gives_the_published_share(self):
        # Open textbook fluid-power-systems, chapter 6, example 5.
        assert calculate("load-unload", {"load_s": [30], "unload_s": [10]})["leak_share"] == 0.75

    def test_counts_the_power_off_load(self):
        result = calculate(
            "load-unload",
            {"load_s": [30], "unload_s": [10], "loaded_power_w": 40000, "unloaded_power_w": 10000},
        )

        assert result["mean_power_w"] == 32500.0

    def test_wants_whole_cycles(self):
        assert "/unload_s" in problems_of("load-unload", {"load_s": [30, 31], "unload_s": [10]})


class TestSpecificPower:
    def test_is_given_in_three_units(self):
        result = calculate(
            "specific-power", {"power_w": 39000, "flow_m3_per_s": 0.1, "outlet_gauge_pa": 700000}
        )

        assert (result["specific_power_kw_per_m3_per_min"], result["status"]) == (6.5, "stated")

    def test_goes_with_the_adiabatic_work_to_another_pressure(self):
        result = calculate(
            "specific-power",
            {"power_w": 39000, "flow_m3_per_s": 0.1, "outlet_gauge_pa": 700000, "actual_gauge_pa": 630000},
        )

        # One stage, from 101.325 kPa: 0.94222 of the work at 7 bar (computed from (p2/p1)^(2/7) - 1).
        assert result["actual_energy_j_per_m3"] / 390000.0 == pytest.approx(0.94222, abs=1e-5)

    def test_of_hardly_any_pressure_goes_nowhere(self):
        wrong = problems_of(
            "specific-power",
            {"power_w": 390, "flow_m3_per_s": 0.1, "outlet_gauge_pa": 1e-300, "actual_gauge_pa": 630000},
        )

        assert set(wrong) == {"/actual_gauge_pa"}

    @pytest.mark.parametrize(
        ("power_w", "code"), [(20000, "below_isothermal"), (90000, "specific_power_too_high")]
    )
    def test_is_refused(self, power_w, code):
        result = calculate(
            "specific-power", {"power_w": power_w, "flow_m3_per_s": 0.1, "outlet_gauge_pa": 700000}
        )

        assert (result["status"], result["reasons"][0]["code"]) == ("refused", code)


class TestConvertFlowReference:
    def test_goes_from_normal_to_free_air(self):
        # Computed: (101 325 / 100 000)(293.15 / 273.15).
        result = calculate(
            "convert-flow-reference", {"flow_m3_per_s": 1, "from_state": "normal", "to_state": "bar20"}
        )

        assert result["flow_m3_per_s"] == pytest.approx(1.08744, abs=1e-5)


class TestCo2e:
    def test_keeps_the_factors_source_and_year(self):
        result = calculate(
            "co2e-electricity",
            {
                "energy_kwh": 1000,
                "factor_kg_per_kwh": "0.4",
                "factor_source": "grid table",
                "factor_year": 2024,
            },
        )

        assert (result["co2e_kg"], result["factor_source"], result["factor_year"]) == (
            "400.000",
            "grid table",
            2024,
        )
