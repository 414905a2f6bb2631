"""Many holes in one call by name."""

import pytest

from findings.kinds.calculations import InvalidInput, calculate


class TestOrificeFlowBatch:
    def test_gives_each_hole_what_it_has_alone(self):
        leaks = [("air", 0.001, 7e5), ("argon", 0.002, 3e5), ("propane", 0.001, 2e6), ("air", -1.0, 7e5)]
        gases, diameters, pressures = zip(*leaks, strict=True)

        result = calculate(
            "orifice-flow-batch",
            {"gas": list(gases), "diameter_m": list(diameters), "pressure_gauge_pa": list(pressures)},
        )

        for row, (gas, diameter, pressure) in enumerate(leaks):
            alone = calculate(
                "orifice-flow", {"gas": gas, "diameter_m": diameter, "pressure_gauge_pa": pressure}
            )
            for name in ("flow_m3_per_s", "flow_u_m3_per_s", "flow_low_m3_per_s", "mass_flow_kg_per_s"):
                assert result[name][row] == (alone[name] and pytest.approx(alone[name], rel=1e-12))
            assert (result["regime"][row], result["status"][row]) == (alone["regime"], alone["status"])
            assert result["codes"][row] == [reason["code"] for reason in alone["reasons"]]

    def test_explains_each_code_once(self):
        result = calculate(
            "orifice-flow-batch", {"diameter_m": [0.001, None, None], "pressure_gauge_pa": [7e5]}
        )

        assert {reason["code"] for reason in result["reasons"]} == {"edge_unknown", "not_finite"}

    def test_counts_what_it_refused(self):
        result = calculate("orifice-flow-batch", {"diameter_m": [0.001, None], "pressure_gauge_pa": [7e5]})

        assert (result["rows"], result["refused"], result["flow_m3_per_s"][1]) == (2, 1, None)

    def test_wants_lists_of_one_length(self):
        columns = {"diameter_m": [0.001] * 3, "pressure_gauge_pa": [7e5] * 2, "edge": ["sharp"]}

        with pytest.raises(InvalidInput, match=r"^/pressure_gauge_pa must hold 1 entry or 3"):
            calculate("orifice-flow-batch", columns)

    def test_takes_no_more_than_ten_thousand(self):
        with pytest.raises(InvalidInput, match=r"^/diameter_m must hold 1 to 10000 items"):
            calculate("orifice-flow-batch", {"diameter_m": [1e-3] * 10001, "pressure_gauge_pa": [7e5]})
