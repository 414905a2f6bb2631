"""The calculations of savings, what-ifs, tariffs, plans and purchased gas, through their names."""

from decimal import Decimal

import pytest

from findings.kinds.calculations import CALCULATIONS, InvalidInput, calculate


def example(name, **changes):
    return {**CALCULATIONS[name].example, **changes}


def without(name, *keys):
    return {key: value for key, value in CALCULATIONS[name].example.items() if key not in keys}


def problems_of(name, data):
    with pytest.raises(InvalidInput) as refusal:
        calculate(name, data)
    return dict(refusal.value.problems)


def codes(result):
    return [reason["code"] for reason in result["reasons"]]


class TestMarginalSaving:
    def test_shows_both_figures_as_power_and_money(self):
        result = calculate("marginal-saving", example("marginal-saving"))

        # The variable-speed machine trims: 0.88 of 57 kW over 0.15 m3/s for 0.004 m3/s.
        assert result["expected_power_w"] == pytest.approx(0.88 * 57_000 * 0.004 / 0.15)
        assert result["expected_saving_per_year"] == "1524.86"
        assert result["full_load_cost_per_year"] == "1719.77"
        assert result["trim_machine"] == "C2"

    def test_takes_measured_points(self):
        machine = {
            "key": "C1",
            "control": "load_unload",
            "rated_flow_m3_per_s": 0.2,
            "rated_power_w": 75_000,
            "points": [{"flow_share": 0.2, "power_share": 0.5}, {"flow_share": 1, "power_share": 1}],
        }
        data = {"machines": [machine], "demand_m3_per_s": 0.12, "leak_flow_m3_per_s": 0.01}

        result = calculate("marginal-saving", data)

        assert result["marginal_factor"] == pytest.approx(0.625)

    def test_is_refused_beyond_the_capacity(self):
        result = calculate("marginal-saving", example("marginal-saving", demand_m3_per_s=0.4))

        assert (result["status"], result["expected_power_w"], codes(result)) == (
            "refused",
            None,
            ["demand_above_capacity"],
        )

    def test_wants_all_of_the_money_or_none(self):
        assert "/hours_per_year" in problems_of("marginal-saving", without("marginal-saving", "currency"))


class TestPressureWhatIf:
    def test_reproduces_the_rule(self):
        # Derived: 80 of 500 m3/h leak and 60 blow open, 60 kW, from 7.0 to 6.3 bar, 6000 h at 0.15: 3994.98.
        result = calculate(
            "pressure-what-if",
            {
                "before_gauge_pa": 7e5,
                "after_gauge_pa": 6.3e5,
                "flow_m3_per_s": 500 / 3600,
                "power_w": 60_000,
                "unregulated_flow_m3_per_s": 140 / 3600,
                "work_basis": "one_per_cent_per_two_psi",
                "hours_per_year": 6000,
                "price_per_kwh": "0.15",
                "currency": "EUR",
            },
        )

        assert result["saving_per_year"] == "3994.98"
        assert (result["leak_factor"], result["work_factor"]) == pytest.approx((0.91264, 0.94924), abs=5e-6)

    def test_is_refused_where_a_consumer_would_starve(self):
        needy = [{"name": "press 4", "least_gauge_pa": 6.2e5, "loss_pa": 0.2e5}]

        result = calculate("pressure-what-if", example("pressure-what-if", points_of_use=needy))

        assert (result["together_w"], codes(result)) == (None, ["too_little_pressure"])
        assert result["saving_per_year"] is None


class TestBranchShutOff:
    def test_counts_the_hours_outside_the_week(self):
        result = calculate("branch-shut-off", example("branch-shut-off", closed_days=[]))

        # 2026 has 261 working days of 16.5 h.
        hours = 8760 - 261 * 16.5
        assert Decimal(result["hours_shut"]) == Decimal(str(hours))
        assert result["energy_kwh"] == pytest.approx(0.006 * 390_000 * 0.75 * hours / 1000)
        assert Decimal(result["saving"]) == pytest.approx(Decimal(result["energy_kwh"] * 0.19), abs=1)

    def test_takes_the_price_of_the_hours_that_are_shut(self):
        bands = CALCULATIONS["tariff-cost"].example["bands"]

        result = calculate("branch-shut-off", {**without("branch-shut-off", "price_per_kwh"), "bands": bands})

        assert {part["name"] for part in result["parts"]} == {"day", "night", "rest"}
        assert Decimal(result["mean_price_per_kwh"]) < Decimal("0.17")

    def test_without_a_price_tells_the_energy_alone(self):
        assert "saving" not in calculate("branch-shut-off", without("branch-shut-off", "price_per_kwh"))

    @pytest.mark.parametrize(
        ("change", "pointer"),
        [
            ({"bands": CALCULATIONS["tariff-change"].example["old_bands"]}, "/bands"),
            ({"time_zone": "Etc/GMT-1"}, "/time_zone"),
            ({"time_zone": "Europe/Nowhere"}, "/time_zone"),
            ({"weekly": {"mon": [{"start": "22:00", "end": "06:00"}]}}, "/weekly/mon/0"),
            ({"weekly": {"mon": [{"start": "00:00", "end": "06:00"}] * 2}}, "/weekly"),
            ({"closed_days": ["2026-02-30"]}, "/closed_days/0"),
        ],
    )
    def test_names_what_is_wrong(self, change, pointer):
        assert list(problems_of("branch-shut-off", example("branch-shut-off", **change))) == [pointer]


class TestTariffCost:
    def test_names_the_prices_in_force(self):
        result = calculate("tariff-cost", example("tariff-cost"))

        hours = {part["name"]: Decimal(part["hours"]) for part in result["parts"]}
        assert hours == {"day": 260 * 16, "night": 260 * 8, "rest": 105 * 24}
        expected = Decimal("1.85") * (
            4160 * Decimal("0.24") + 2080 * Decimal("0.17") + 2520 * Decimal("0.16")
        )
        assert Decimal(result["cost"]) == expected.quantize(Decimal("0.01"))

    def test_shows_the_demand_charge_beside_the_cost(self):
        result = calculate("tariff-cost", example("tariff-cost"))

        assert (
            result["cost"]
            == calculate("tariff-cost", without("tariff-cost", "demand_charge_per_kw_month"))["cost"]
        )
        assert (result["demand_charge"]["least"], result["demand_charge"]["whole_months"]) == ("210.90", 12)

    def test_with_a_calendar_counts_its_hours_alone(self):
        result = calculate(
            "tariff-cost", example("tariff-cost", weekly={"sun": [{"start": "00:00", "end": "24:00"}]})
        )

        assert [part["name"] for part in result["parts"]] == ["rest"]
        assert Decimal(result["parts"][0]["hours"]) == 52 * 24

    def test_of_no_hour_has_no_mean(self):
        result = calculate("tariff-cost", example("tariff-cost", weekly={}))

        assert (result["mean_price_per_kwh"], result["cost"]) == (None, "0.00")

    @pytest.mark.parametrize(
        ("change", "pointer"),
        [
            ({"start_at": "2026-01-01T00:00:00"}, "/start_at"),
            ({"start_at": "yesterday"}, "/start_at"),
            ({"end_at": "2025-01-01T00:00:00Z"}, "/end_at"),
            ({"end_at": "2126-01-01T00:00:00Z"}, "/end_at"),
            ({"holidays": ["today----x"]}, "/holidays/0"),
        ],
    )
    def test_names_what_is_wrong(self, change, pointer):
        assert list(problems_of("tariff-cost", example("tariff-cost", **change))) == [pointer]

    def test_names_the_hours_without_a_price(self):
        bands = CALCULATIONS["tariff-cost"].example["bands"][:2]

        assert "no price" in problems_of("tariff-cost", example("tariff-cost", bands=bands))["/bands"]


class TestTariffChange:
    def test_tells_the_difference_for_the_same_loss(self):
        result = calculate("tariff-change", example("tariff-change"))

        # 1.85 kW for 8760 h at 0.199, or 261 days of 16 h at 0.24 and 8 h at 0.17, and 104 days at 0.16.
        assert (result["old_cost"], result["new_cost"]) == ("3224.99", "3249.64")
        assert result["difference"] == "24.64"

    def test_names_the_table_that_is_wrong(self):
        bands = CALCULATIONS["tariff-change"].example["new_bands"][:1]

        assert list(problems_of("tariff-change", example("tariff-change", new_bands=bands))) == ["/new_bands"]


class TestRepairPlan:
    def test_beats_the_best_ratio_first(self):
        # Derived by hand: taking the best ratio first gains 764.
        result = calculate("repair-plan", example("repair-plan"))

        assert result["net"] == "1052.00"
        assert result["proof"] == "optimal"
        assert "hose at press 4" not in result["chosen"]
        assert Decimal(result["extra_net"]) > 0

    def test_judges_leaks_together_where_machines_are_given(self):
        machines = [
            {
                "key": key,
                "control": "load_unload",
                "rated_flow_m3_per_s": 0.1,
                "rated_power_w": 38_000,
                "order": order,
            }
            for order, key in ((1, "A"), (2, "B"))
        ]
        repairs = [
            {"key": key, "saving": 10, "cost": 1, "leak_flow_m3_per_s": 0.006}
            for key in ("one", "two", "three")
        ]

        result = calculate(
            "repair-plan",
            {"repairs": repairs, "currency": "EUR", "machines": machines, "demand_m3_per_s": 0.11},
        )

        assert result["together_power_w"] > result["apart_power_w"]
        assert "group_differs" in codes(result)

    @pytest.mark.parametrize(
        ("change", "pointer"),
        [
            ({"repairs": [{"key": "x", "saving": 1, "cost": 1}] * 2}, "/repairs"),
            ({"demand_m3_per_s": 0.1}, "/machines"),
        ],
    )
    def test_names_what_is_wrong(self, change, pointer):
        assert list(problems_of("repair-plan", example("repair-plan", **change))) == [pointer]


class TestGasCost:
    BASE = {"gas": "methane", "flow_m3_per_s": "0.001", "hours": "1000", "currency": "EUR"}

    def test_is_the_same_by_kilogram_and_by_heat(self):
        by_heat = calculate(
            "gas-cost",
            self.BASE
            | {"price_per_kwh": "0.05", "heating_value_kwh_per_kg": "15.4", "heating_value_basis": "higher"},
        )
        by_mass = calculate("gas-cost", self.BASE | {"price_per_kg": "0.77"})

        assert by_heat["cost"] == by_mass["cost"]
        # 3600 m3 of methane at 1 bar 20 °C, 0.6582 kg/m3.
        assert Decimal(by_mass["mass_kg"]) == pytest.approx(
            Decimal(3600) * Decimal("0.6582"), rel=Decimal("1e-4")
        )

    def test_by_volume_uses_the_flows_own_state(self):
        assert calculate("gas-cost", self.BASE | {"price_per_m3": "0.5"})["cost"] == "1800.00"

    def test_of_a_vented_gas_names_report_and_year(self):
        result = calculate("gas-cost", self.BASE | {"assessment": "AR5_fossil"})

        # IPCC AR5: 30 for fossil methane.
        assert (result["co2e_factor_kg_per_kg"], result["co2e_year"]) == ("30.0000", 2013)
        assert "AR5" in result["co2e_source"]
        assert result["cost"] is None

    def test_of_a_burnt_gas_uses_stoichiometry(self):
        result = calculate("gas-cost", self.BASE | {"fate": "burnt"})

        assert Decimal(result["co2e_factor_kg_per_kg"]) == pytest.approx(
            Decimal("2.7433"), abs=Decimal("0.0001")
        )

    @pytest.mark.parametrize(
        ("gas", "factor", "code"),
        [
            ("nitrogen", "0.0000", "no_warming"),
            ("carbon_dioxide", "1.0000", None),
            ("propane", None, "warming_unknown"),
        ],
    )
    def test_of_other_gases(self, gas, factor, code):
        result = calculate("gas-cost", self.BASE | {"gas": gas})

        assert (result["co2e_factor_kg_per_kg"], codes(result)) == (factor, [code] if code else [])

    @pytest.mark.parametrize(
        ("change", "pointer"),
        [
            ({"price_per_kg": 1, "price_per_m3": 1}, "/price_per_m3"),
            ({"price_per_kwh": 1}, "/heating_value_kwh_per_kg"),
            ({"price_per_kwh": 1, "heating_value_kwh_per_kg": 15}, "/heating_value_kwh_per_kg"),
            ({"fate": "burnt", "assessment": "AR6"}, "/fate"),
            ({"warming_potential": 29}, "/warming_source"),
        ],
    )
    def test_names_what_is_wrong(self, change, pointer):
        assert list(problems_of("gas-cost", self.BASE | change)) == [pointer]
