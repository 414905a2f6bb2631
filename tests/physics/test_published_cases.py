"""Every published or derived check case, computed through our functions; the data name each source."""

import json
import math
import random
from decimal import Decimal
from pathlib import Path

import pytest

from findings.kinds import cost, repair_times
from findings.physics import compressor, emissions, gases, orifice, quantities, safety, steam, uncertainty
from findings.physics.reference_states import ReferenceState, volume_flow_m3_per_s

CASES = json.loads((Path(__file__).parent / "leak_cases.json").read_text(encoding="utf-8"))["cases"]
R = gases.MOLAR_GAS_CONSTANT_J_PER_MOL_K


def through_hole(given):
    upstream = given["p1_gauge_Pa"] + given["p_atm_Pa"]
    return orifice.mass_flow_kg_per_s(
        area_m2=orifice.circle_area_m2(given["d_m"]),
        upstream_pa=upstream,
        downstream_pa=given.get("p2_abs_Pa", given["p_atm_Pa"]),
        temperature_k=given["T1_K"],
        molar_mass_kg_per_mol=given["M_kg_per_mol"],
        k=given["k"],
        discharge_coefficient=given["Cd"],
    )


def free_air(given):
    state = ReferenceState("case", "case", given["ref_p_Pa"], given["ref_T_K"], "the case")
    return volume_flow_m3_per_s(through_hole(given), gases.GASES["air"], state)


def nozzle_from_moving_gas(given):
    pressure, temperature = orifice.stagnation_state(
        given["p1_abs_Pa"], given["T1_static_K"], given["V1_m_s"], cp=given["cp"], k=given["k"]
    )
    return orifice.mass_flow_kg_per_s(
        area_m2=given["A_m2"],
        upstream_pa=pressure,
        downstream_pa=given["p2_abs_Pa"],
        temperature_k=temperature,
        molar_mass_kg_per_mol=R / given["R"],
        k=given["k"],
        discharge_coefficient=given["Cd"],
    )


def relief_valve(given):
    return orifice.mass_flow_kg_per_s(
        area_m2=given["A_m2"],
        upstream_pa=given["p1_abs_Pa"],
        downstream_pa=given["p2_abs_Pa"],
        temperature_k=given["T1_K"],
        molar_mass_kg_per_mol=given.get("M_kg_per_mol", 0.051),
        k=given["k"],
        discharge_coefficient=given["Cd"],
        compressibility=given["Z"],
    )


def steam_flow(given):
    upstream = given["p1_gauge_Pa"] + given.get("p_atm_Pa", 101352.93)
    area = orifice.circle_area_m2(given["d_m"])
    return steam.napier_mass_flow_kg_per_s(area, upstream, discharge_coefficient=given["Cd"])


def steam_cost(given):
    hourly = cost.mass_cost_per_hour(Decimal(str(given["m_kg_s"])), Decimal(str(given["price_per_kg"])))
    return float(hourly * given["hours"])


def adiabatic(given):
    return compressor.adiabatic_work_j_per_m3(
        given["p1_Pa"], given["p2_Pa"], k=given["k"], stages=given["stages"]
    )


def valve_coefficient(given):
    outlet = given["p2_gauge_Pa"] + given.get("p_atm_Pa", 101352.93)
    return orifice.valve_flow_coefficient(given["Q_m3_s"], given["T1_K"], outlet, given["dp_Pa"])


def decay(given):
    atmosphere = given["p_atm_Pa"]
    return compressor.decay_flow_mean_m3_per_s(
        given["V_m3"],
        given["p_start_gauge_Pa"] + atmosphere,
        given["p_end_gauge_Pa"] + atmosphere,
        given["duration_s"],
        atmosphere_pa=atmosphere,
    )


def artificial_demand(given):
    atmosphere = given["p_atm_Pa"]
    return orifice.choked_flow_at_other_pressure(
        given["q1_m3_s"],
        upstream_pa=given["p1_gauge_Pa"] + atmosphere,
        other_upstream_pa=given["p2_gauge_Pa"] + atmosphere,
    )


def burned_gas(given):
    cubic_feet = Decimal(str(round(quantities.convert(given["V_m3_at_60F_14_7psia"], "m3", "ft3"), 3)))
    return float(emissions.burned_co2_kg(cubic_feet, emissions.NATURAL_GAS_HEAT, emissions.NATURAL_GAS_CO2))


def burned_propane(given):
    gallons = Decimal(str(quantities.convert(given["V_m3_liquid"], "m3", "gal")))
    return float(emissions.burned_co2_kg(gallons, emissions.PROPANE_HEAT, emissions.PROPANE_CO2))


def vented_methane(given):
    return float(emissions.vented_co2e_kg(Decimal(given["m_kg"]), emissions.METHANE_FOSSIL_AR5))


def propane_price(given):
    price = cost.price_per_energy(Decimal(str(given["price_per_gal"])), Decimal(given["Btu_per_gal"]))
    return float(price * 1_000_000)


def half_width_of_four_normals(given):
    def draw(source: random.Random) -> float:
        return math.fsum(source.gauss(0.0, given["sigma"]) for _ in range(given["n"]))

    _, bounds = uncertainty.monte_carlo(draw, draws=200_000, seed=2024)
    return (bounds.high - bounds.low) / 2.0


COMPUTATIONS = {
    "D-HB": free_air,
    "D-DOE": free_air,
    "D-REF": through_hole,
    "D-CEN-1": nozzle_from_moving_gas,
    "D-CEN-2": nozzle_from_moving_gas,
    "D-CEN-3": lambda given: given["p0_Pa"] * orifice.critical_pressure_ratio(given["k"]),
    "D-API": relief_valve,
    "D-STM-1": steam_flow,
    "D-STM-2": steam_flow,
    "D-STM-3": steam_cost,
    "D-STM-4": steam_cost,
    "D-MHI": lambda given: compressor.isothermal_work_j_per_m3(given["p1_Pa"], given["p2_Pa"]),
    "D-MHA": adiabatic,
    "D-ESP": valve_coefficient,
    "D-SP": lambda given: compressor.specific_energy_j_per_m3(given["P_W"], given["q_m3_s"]),
    "D-LU": lambda given: compressor.leak_share(given["t_load_s"], given["t_unload_s"]),
    "D-NAV-1": lambda given: compressor.loss_line(given["mean_pressure_psig"], given["loss_scfm"]).slope,
    "D-NAV-2": lambda given: compressor.Line(given["slope"], given["intercept"]).at(given["p_psig"]),
    "D-NAV": decay,
    "D-431": lambda given: compressor.least_package_efficiency_fixed_speed(given["V1_m3_s"]),
    "D-AD": artificial_demand,
    "D-GHG-1": burned_gas,
    "D-GHG-2": burned_propane,
    "D-GHG-3": vented_methane,
    "D-FP": propane_price,
    "D-LEL": lambda given: safety.concentration_at(given["fraction"], given["LFL_vol"]),
    "D-GUM": lambda given: uncertainty.combine(given["terms_nm"]),
    "D-S1": half_width_of_four_normals,
    "D-CLK": lambda _: repair_times.EQUIPMENT_LEAK.first_attempt_days,
}


def computation_of(case):
    return COMPUTATIONS.get(case["id"]) or COMPUTATIONS[case["id"].rsplit("-", 1)[0]]


class TestCheckCases:
    @pytest.mark.parametrize("case", CASES, ids=[case["id"] for case in CASES])
    def test_are_reproduced_within_their_tolerance(self, case):
        computed = computation_of(case)(case["inputs"])

        tolerance = case["tolerance"]
        assert computed == pytest.approx(
            case["expected"], rel=tolerance.get("rel", 0), abs=tolerance.get("abs", 0)
        )

    def test_are_complete(self):
        assert len({case["id"] for case in CASES}) == 64

    def test_name_their_source(self):
        assert all(case["source"] and case["kind"] in {"published", "derived"} for case in CASES)


class TestLossLine:
    def test_has_the_published_intercept(self):
        # NAVFAC MO-209: Q = 0.62 P - 12.75.
        line = compressor.loss_line([85, 75, 65, 55, 45, 35, 25], [40, 34, 28, 21, 15, 9, 3])

        assert line.intercept == pytest.approx(-12.75, abs=0.005)

    def test_needs_two_pressures(self):
        with pytest.raises(ValueError, match="two different pressures"):
            compressor.loss_line([85, 85], [40, 41])


class TestRepairTime:
    def test_of_covered_equipment_ends_after_fifteen_days(self):
        # 40 CFR 265.1058 and 61.242-8.
        assert repair_times.EQUIPMENT_LEAK.repair_days == 15
