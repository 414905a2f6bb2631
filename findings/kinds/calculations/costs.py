"""What a lost flow takes in power and money, and what electricity emits."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from findings.kinds import cost
from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import STANDARD_ATMOSPHERE_PA, exact, rounded
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.physics import compressor
from findings.physics.emissions import Factor, electricity_co2e_kg
from findings.physics.header_pressure import HeaderChange
from findings.physics.quantities import convert
from findings.physics.reference_states import DEFAULT_STATE

LEAST_RATED_PA = 1e4
"""Below a tenth of a bar a ratio of works says nothing (judgement)."""

LEAK_COST = schemas.inputs(
    ["flow_m3_per_s", "price_per_kwh", "currency"],
    {
        "flow_m3_per_s": schemas.exact(1000, "Lost flow at the specific energy's reference state, m3/s."),
        "specific_energy_j_per_m3": schemas.exact(10**9, "Energy per m3 of delivered air, J/m3."),
        "specific_power_kw_per_m3_per_min": schemas.exact(1000, "The same as kW per m3/min."),
        "specific_power_kw_per_100_cfm": schemas.exact(1000, "The same as kW per 100 cfm."),
        "price_per_kwh": schemas.exact(10**9, "Price of electricity per kWh."),
        "currency": {
            "type": "string",
            "minLength": 3,
            "maxLength": 3,
            "description": "ISO 4217 code of the price.",
        },
        "hours_per_year": schemas.exact(8784, "Hours a year under pressure."),
        "marginal_factor": schemas.exact(1, "Part of the full-load value really saved, by control."),
    },
)

SPECIFIC_POWER = schemas.inputs(
    ["power_w", "flow_m3_per_s", "outlet_gauge_pa"],
    {
        "power_w": schemas.positive(1e8, "Power taken, W."),
        "flow_m3_per_s": schemas.positive(1000.0, "Delivery at 1 bar 20 °C, m3/s."),
        "outlet_gauge_pa": schemas.positive(1e8, "Delivery pressure, Pa gauge."),
        "actual_gauge_pa": schemas.between(
            LEAST_RATED_PA, 1e8, "Pressure that it really delivers at, Pa gauge."
        ),
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
    },
)

CO2E_ELECTRICITY = schemas.inputs(
    ["energy_kwh", "factor_kg_per_kwh", "factor_source", "factor_year"],
    {
        "energy_kwh": schemas.exact(10**12, "Electric energy, kWh."),
        "factor_kg_per_kwh": schemas.exact(100, "Grid factor, kg CO2e per kWh."),
        "factor_source": {
            "type": "string",
            "minLength": 1,
            "maxLength": 200,
            "description": "Who publishes it.",
        },
        "factor_year": {
            "type": "integer",
            "minimum": 1990,
            "maximum": 2200,
            "description": "Its year.",
        },
    },
)

LEAK_COST_ANSWER = schemas.answer(
    {
        "power_w": schemas.money("Power that makes the lost flow at full load, W."),
        "cost_per_hour": schemas.money("Cost per hour under pressure at full load."),
        "currency": {"type": "string", "description": "ISO 4217 code of every figure of money."},
        "basis": {"type": "string", "description": "full_load: what the flow is worth, not what is saved."},
    },
    {
        "cost_per_year": schemas.money("Full-load cost of the hours given."),
        "expected_cost_per_hour": schemas.money("Full-load cost times the marginal factor."),
        "expected_cost_per_year": schemas.money("The same for the hours given."),
    },
)

SPECIFIC_POWER_ANSWER = schemas.answer(
    {
        "status": schemas.choice(["stated", "refused"], "refused: no machine can have it."),
        "reasons": schemas.REASONS,
        "specific_energy_j_per_m3": schemas.result("Energy per m3 of inlet air, J/m3."),
        "isothermal_j_per_m3": schemas.result("Least work of any compression, J/m3."),
        "adiabatic_j_per_m3": schemas.result("Work without heat loss in one stage, J/m3."),
    },
    {
        "specific_power_kw_per_m3_per_min": schemas.result("The same as kW per m3/min."),
        "specific_power_kw_per_100_cfm": schemas.result("The same as kW per 100 cfm."),
        "ratio_to_adiabatic": schemas.result("Stated over adiabatic work."),
        "actual_energy_j_per_m3": schemas.result("Energy per m3 at the pressure really delivered, J/m3."),
        "actual_energy_u_j_per_m3": schemas.result("What the change of pressure adds to its uncertainty."),
    },
)

CO2E_ELECTRICITY_ANSWER = schemas.answer(
    {
        "co2e_kg": schemas.money("Emission, kg CO2e."),
        "factor_kg_per_kwh": schemas.money("The factor used, kg CO2e per kWh."),
        "factor_source": {"type": "string", "description": "Who publishes it."},
        "factor_year": {"type": "integer", "description": "Its year."},
    }
)


def leak_cost(data: Mapping[str, Any]) -> Json:
    """Return power and cost of a lost flow at full load, and as expected where the control is known."""
    units = {
        "specific_energy_j_per_m3": "J/m3",
        "specific_power_kw_per_m3_per_min": "kW/(m3/min)",
        "specific_power_kw_per_100_cfm": "kW/100 cfm",
    }
    given = [name for name in units if name in data]
    if len(given) != 1:
        text = "give exactly one of " + ", ".join(units)
        raise InvalidInput(Problem("/specific_energy_j_per_m3", text))
    stated, flow, price = (
        exact(data, name) or Decimal(0) for name in (given[0], "flow_m3_per_s", "price_per_kwh")
    )
    energy = convert(stated, units[given[0]], "J/m3")
    hourly = cost.cost_per_hour(flow, energy, price)
    result: Json = {
        "power_w": rounded(cost.power_w(flow, energy), "0.001"),
        "cost_per_hour": rounded(hourly, "0.000001"),
        "currency": data["currency"],
        "basis": "full_load",
    }
    hours, factor = exact(data, "hours_per_year"), exact(data, "marginal_factor")
    if hours is not None:
        result["cost_per_year"] = rounded(cost.product(hourly, hours), "0.01")
    if factor is not None:
        result["expected_cost_per_hour"] = rounded(cost.product(hourly, factor), "0.000001")
    if hours is not None and factor is not None:
        result["expected_cost_per_year"] = rounded(cost.product(hourly, hours, factor), "0.01")
    return result


def specific_power(data: Mapping[str, Any]) -> Json:
    """Return a machine's specific power in three units beside the least works, refused if impossible."""
    inlet = DEFAULT_STATE.pressure_pa
    outlet = data["outlet_gauge_pa"] + data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA)
    energy = compressor.specific_energy_j_per_m3(data["power_w"], data["flow_m3_per_s"])
    problems = compressor.problems_of_specific_energy(energy, inlet_pa=inlet, outlet_pa=outlet)
    result: Json = {
        "status": "refused" if problems else "stated",
        "reasons": [problem._asdict() for problem in problems],
        "specific_energy_j_per_m3": None,
        "isothermal_j_per_m3": None,
        "adiabatic_j_per_m3": None,
    }
    if outlet > inlet:
        result["isothermal_j_per_m3"] = compressor.isothermal_work_j_per_m3(inlet, outlet)
        result["adiabatic_j_per_m3"] = compressor.adiabatic_work_j_per_m3(inlet, outlet)
    if not problems:
        result["specific_energy_j_per_m3"] = energy
        result["specific_power_kw_per_m3_per_min"] = convert(energy, "J/m3", "kW/(m3/min)")
        result["specific_power_kw_per_100_cfm"] = convert(energy, "J/m3", "kW/100 cfm")
        result["ratio_to_adiabatic"] = energy / result["adiabatic_j_per_m3"]
        result |= _at_actual_pressure(data, energy)
    return result


def _at_actual_pressure(data: Mapping[str, Any], energy: float) -> Json:
    """Return the specific energy at the pressure really delivered: it goes with the adiabatic work."""
    if "actual_gauge_pa" not in data:
        return {}
    rated = data["outlet_gauge_pa"]
    if rated < LEAST_RATED_PA:
        text = f"starts from a delivery pressure of {LEAST_RATED_PA:.0f} Pa or more"
        raise InvalidInput(Problem("/actual_gauge_pa", text))
    atmosphere = data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA)
    change = HeaderChange(rated, data["actual_gauge_pa"], atmosphere)
    return {
        "actual_energy_j_per_m3": energy * change.work_factor(),
        "actual_energy_u_j_per_m3": energy * change.work_factor_u(),
    }


def co2e_electricity(data: Mapping[str, Any]) -> Json:
    """Return the CO2e of an electric energy by a grid factor with its source and year."""
    energy, value = (exact(data, name) or Decimal(0) for name in ("energy_kwh", "factor_kg_per_kwh"))
    factor = Factor(value, "kg CO2e/kWh", data["factor_source"], data["factor_year"])
    return {
        "co2e_kg": rounded(electricity_co2e_kg(energy, factor), "0.001"),
        "factor_kg_per_kwh": str(factor.value),
        "factor_source": factor.source,
        "factor_year": factor.year,
    }


ROWS = (
    Calculation(
        "leak-cost",
        "Power and cost of a lost flow",
        leak_cost,
        LEAK_COST,
        LEAK_COST_ANSWER,
        {
            "flow_m3_per_s": "0.0021",
            "specific_power_kw_per_m3_per_min": "6.5",
            "price_per_kwh": "0.19",
            "currency": "EUR",
            "hours_per_year": "6000",
            "marginal_factor": "0.75",
        },
        "Flow times specific energy times price, as in US DOE compressed air tip sheet no. 3.",
    ),
    Calculation(
        "specific-power",
        "Specific power of a compressor beside the least work",
        specific_power,
        SPECIFIC_POWER,
        SPECIFIC_POWER_ANSWER,
        {"power_w": 37000.0, "flow_m3_per_s": 0.1, "outlet_gauge_pa": 750000.0, "actual_gauge_pa": 680000.0},
        "Isothermal and adiabatic work of an ideal gas from 1 bar; another pressure by the adiabatic work.",
    ),
    Calculation(
        "co2e-electricity",
        "CO2e of electricity",
        co2e_electricity,
        CO2E_ELECTRICITY,
        CO2E_ELECTRICITY_ANSWER,
        {
            "energy_kwh": "1250",
            "factor_kg_per_kwh": "0.363",
            "factor_source": "grid operator's yearly table",
            "factor_year": 2024,
        },
        "Energy times the stated grid factor.",
    ),
)
