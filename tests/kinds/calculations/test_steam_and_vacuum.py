"""Steam lost and air let in by name."""

import pytest

from findings.kinds.calculations import InvalidInput, calculate

LB_PER_H = 0.45359237 / 3600


class TestSteamLeak:
    def test_gives_the_published_loss_and_cost(self):
        # US DOE steam tip sheet no. 1: 150 psig, 1/8 in: 75.8 lb/h, 2 988 $ a year at 4.50 $ per 1000 lb.
        result = calculate(
            "steam-leak",
            {
                "diameter_m": 0.003175,
                "discharge_coefficient": 0.729,
                "pressure_gauge_pa": 1034213.59,
                "atmosphere_absolute_pa": 101352.93,
                "price_per_kg": "0.0099208",
                "currency": "USD",
                "hours_per_year": 8760,
            },
        )

        assert result["mass_flow_kg_per_s"] / LB_PER_H == pytest.approx(75.8, rel=1e-3)
        assert float(result["cost_per_year"]) == pytest.approx(2988, rel=1e-3)

    def test_warns_of_the_jet(self):
        result = calculate("steam-leak", {"diameter_m": 0.003, "pressure_gauge_pa": 8e5})

        assert "steam" in {caution["key"] for caution in result["cautions"]}

    def test_has_no_cost_where_it_is_refused(self):
        result = calculate(
            "steam-leak",
            {"diameter_m": 0.003, "pressure_gauge_pa": 1e4, "price_per_kg": "0.03", "currency": "EUR"},
        )

        assert (result["status"], result["cost_per_hour"]) == ("refused", None)

    def test_wants_a_currency_beside_a_price(self):
        with pytest.raises(InvalidInput, match="/currency is required beside price_per_kg"):
            calculate("steam-leak", {"diameter_m": 0.003, "pressure_gauge_pa": 8e5, "price_per_kg": "0.03"})


class TestVacuumLeak:
    LEAK = {"diameter_m": 0.001, "discharge_coefficient": 1.0}

    @pytest.mark.parametrize(
        ("kilopascal", "litres", "at_pump"),
        # Computed from the isentropic nozzle: l/min at 1 bar 20 °C through 1 mm, and at the pump's inlet.
        [
            (95, 4.728, 4.976),
            (80, 7.909, 9.887),
            (60, 9.399, 15.664),
            (50, 9.484, 18.969),
            (40, 9.484, 23.711),
        ],
    )
    def test_lets_in_and_asks_of_the_pump(self, kilopascal, litres, at_pump):
        result = calculate("vacuum-leak", self.LEAK | {"line_absolute_pa": kilopascal * 1000})

        flows = (result["flow_m3_per_s"] * 60000, result["pump_inlet_flow_m3_per_s"] * 60000)
        assert flows == pytest.approx((litres, at_pump), abs=1e-3)

    def test_costs_what_its_own_pump_takes(self):
        result = calculate(
            "vacuum-leak",
            self.LEAK
            | {
                "line_absolute_pa": 40000,
                "pump_specific_energy_j_per_m3": "60000",
                "price_per_kwh": "0.25",
                "currency": "EUR",
            },
        )

        # Computed by hand: 23.711 l/min at 60 kJ/m3 are 23.711 W, at 0.25 a kWh 0.005928 an hour.
        assert (result["pump_power_w"][:5], result["cost_per_hour"]) == ("23.71", "0.005928")

    def test_has_no_cost_by_a_compressors_figure(self):
        data = self.LEAK | {"line_absolute_pa": 40000, "price_per_kwh": "0.25", "currency": "EUR"}

        with pytest.raises(InvalidInput, match="/pump_specific_energy_j_per_m3 is required"):
            calculate("vacuum-leak", data)

    def test_is_less_sure_at_the_pump_than_at_the_hole(self):
        result = calculate("vacuum-leak", self.LEAK | {"line_absolute_pa": 40000, "line_u_pa": 4000})

        assert result["pump_inlet_flow_u_m3_per_s"] / result["pump_inlet_flow_m3_per_s"] == pytest.approx(
            0.1, rel=1e-3
        )
