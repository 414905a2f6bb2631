"""The calculations offered by name: plain JSON in, plain JSON out, nothing stored."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from types import MappingProxyType
from typing import Any

from findings.kinds import calculation_inputs as schemas
from findings.kinds import cost
from findings.kinds.input_schema import Problem, check, decimal_of
from findings.physics import compressor, direct_flow
from findings.physics.emissions import Factor, electricity_co2e_kg
from findings.physics.estimate import Estimate
from findings.physics.gases import GASES
from findings.physics.leak_flow import Conditions, Edge, Opening, leak_flow
from findings.physics.quantities import convert
from findings.physics.reference_states import DEFAULT_STATE, STATES, convert_flow, density_kg_per_m3
from findings.physics.uncertainty import Uncertain

STANDARD_ATMOSPHERE_PA = 101325.0
Json = dict[str, Any]


class UnknownCalculation(ValueError):
    """Raised for a name no calculation has."""


class InvalidInput(ValueError):
    """Raised for input that doesn't fit; ``problems`` lists each place and what is wrong there."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        """Keep the problems."""
        super().__init__("; ".join(f"{problem.pointer} {problem.message}" for problem in problems))
        self.problems = problems


@dataclass(frozen=True)
class Calculation:
    """A calculation: what it does, its function, the schema of its input, an example and its source."""

    name: str
    title: str
    run: Callable[[Mapping[str, Any]], Json]
    schema: Mapping[str, Any]
    example: Mapping[str, Any]
    source: str


def calculate(name: str, data: Any) -> Json:
    """Return the named calculation's result; raises UnknownCalculation or InvalidInput."""
    if name not in CALCULATIONS:
        msg = f"no calculation is named {name[:60]!r}"
        raise UnknownCalculation(msg)
    calculation = CALCULATIONS[name]
    problems = check(data, calculation.schema)
    if problems:
        raise InvalidInput(problems)
    return calculation.run(data)


def _flow(estimate: Estimate) -> Json:
    """Return an estimated flow under names that carry its unit."""
    return {
        "flow_m3_per_s": estimate.value,
        "flow_u_m3_per_s": estimate.u,
        "flow_low_m3_per_s": estimate.low,
        "flow_high_m3_per_s": estimate.high,
        "reference_state": estimate.inputs["reference_state"],
        "status": estimate.status.value,
        "method": estimate.method,
        "method_version": estimate.method_version,
        "reasons": [reason._asdict() for reason in estimate.reasons],
    }


def _exact(data: Mapping[str, Any], name: str) -> Decimal | None:
    """Return a decimal input that was checked, or None where it isn't given."""
    return decimal_of(data[name]) if name in data else None


def _rounded(value: Decimal, places: str) -> str:
    """Return a decimal rounded half up, as a string."""
    return str(value.quantize(Decimal(places), rounding=ROUND_HALF_UP, context=cost.EXACT))


def orifice_flow(data: Mapping[str, Any]) -> Json:
    """Return the flow of a hole as volume and mass, with interval and reasons."""
    gas = GASES[data.get("gas", "air")]
    state = STATES[data.get("reference_state", DEFAULT_STATE.key)]
    atmosphere = float(data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA))
    own = None
    if "discharge_coefficient" in data:
        own = Uncertain(data["discharge_coefficient"], data.get("discharge_coefficient_u", 0.0))
    opening = Opening(
        Uncertain(float(data["diameter_m"]), data.get("diameter_u_m", 0.0)),
        Edge(data.get("edge", Edge.UNKNOWN)),
        own,
    )
    conditions = Conditions(
        Uncertain(data["pressure_gauge_pa"] + atmosphere, data.get("pressure_u_pa", 0.0)),
        float(data.get("downstream_absolute_pa", atmosphere)),
        Uncertain(data.get("temperature_k", 293.15), data.get("temperature_u_k", 0.0)),
    )
    estimate = leak_flow(opening, conditions, gas, state=state)
    mass = None if estimate.value is None else estimate.value * density_kg_per_m3(gas, state)
    regime = estimate.inputs.get("regime")
    return {**_flow(estimate), "mass_flow_kg_per_s": mass, "regime": regime, "gas": gas.key}


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
        raise InvalidInput((Problem("/specific_energy_j_per_m3", text),))
    stated, flow, price = (
        _exact(data, name) or Decimal(0) for name in (given[0], "flow_m3_per_s", "price_per_kwh")
    )
    energy = convert(stated, units[given[0]], "J/m3")
    hourly = cost.cost_per_hour(flow, energy, price)
    result: Json = {
        "power_w": _rounded(cost.power_w(flow, energy), "0.001"),
        "cost_per_hour": _rounded(hourly, "0.000001"),
        "currency": data["currency"],
        "basis": "full_load",
    }
    hours, factor = _exact(data, "hours_per_year"), _exact(data, "marginal_factor")
    if hours is not None:
        result["cost_per_year"] = _rounded(cost.product(hourly, hours), "0.01")
    if factor is not None:
        result["expected_cost_per_hour"] = _rounded(cost.product(hourly, factor), "0.000001")
    if hours is not None and factor is not None:
        result["expected_cost_per_year"] = _rounded(cost.product(hourly, hours, factor), "0.01")
    return result


def pressure_decay(data: Mapping[str, Any]) -> Json:
    """Return the leak flow of a closed volume: at the start pressure, mean, and in the 1.25 convention."""
    state = STATES[data.get("reference_state", DEFAULT_STATE.key)]
    atmosphere = float(data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA))
    temperature = float(data.get("temperature_k", 293.15))
    start, end = data["start_gauge_pa"] + atmosphere, data["end_gauge_pa"] + atmosphere
    pressure_u = data.get("pressure_u_pa", 0.0)
    estimate = direct_flow.pressure_decay_flow(
        Uncertain(data["volume_m3"], data.get("volume_u_m3", 0.0)),
        Uncertain(start, pressure_u),
        Uncertain(end, pressure_u),
        Uncertain(data["duration_s"], data.get("duration_u_s", 0.0)),
        temperature_k=Uncertain(temperature),
        atmosphere_pa=atmosphere,
        state=state,
    )
    result = {**_flow(estimate), "mean_flow_m3_per_s": None, "convention_flow_m3_per_s": None}
    if not estimate.is_refused:
        mean = compressor.decay_flow_mean_m3_per_s(
            data["volume_m3"], start, end, data["duration_s"], atmosphere_pa=state.pressure_pa
        )
        result["mean_flow_m3_per_s"] = mean * state.temperature_k / temperature
        if data["end_gauge_pa"] <= data["start_gauge_pa"] / 2.0:
            factor = compressor.DOE_HALF_PRESSURE_FACTOR
            result["convention_flow_m3_per_s"] = result["mean_flow_m3_per_s"] * factor
    return result


def load_unload(data: Mapping[str, Any]) -> Json:
    """Return the leak's share of the capacity, its flow and the mean power while nothing is used."""
    loaded, unloaded = sum(data["load_s"]), sum(data["unload_s"])
    if len(data["load_s"]) != len(data["unload_s"]) or not loaded > 0:
        raise InvalidInput(
            (Problem("/unload_s", "must have one time per load time, and load times above 0"),)
        )
    share = compressor.leak_share(loaded, unloaded)
    result: Json = {"leak_share": share}
    if "capacity_m3_per_s" in data:
        estimate = direct_flow.load_unload_flow(
            data["load_s"],
            data["unload_s"],
            Uncertain(data["capacity_m3_per_s"], data.get("capacity_u_m3_per_s", 0.0)),
            state=STATES[data.get("reference_state", DEFAULT_STATE.key)],
        )
        result |= _flow(estimate)
    if "loaded_power_w" in data:
        idle = (1.0 - share) * data.get("unloaded_power_w", 0.0)
        result["mean_power_w"] = share * data["loaded_power_w"] + idle
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
    return result


def convert_flow_reference(data: Mapping[str, Any]) -> Json:
    """Return a dry gas's volume flow at another reference state."""
    flow = convert_flow(data["flow_m3_per_s"], STATES[data["from_state"]], STATES[data["to_state"]])
    return {"flow_m3_per_s": flow, "reference_state": data["to_state"]}


def co2e_electricity(data: Mapping[str, Any]) -> Json:
    """Return the CO2e of an electric energy by a grid factor with its source and year."""
    energy, value = (_exact(data, name) or Decimal(0) for name in ("energy_kwh", "factor_kg_per_kwh"))
    factor = Factor(value, "kg CO2e/kWh", data["factor_source"], data["factor_year"])
    return {
        "co2e_kg": _rounded(electricity_co2e_kg(energy, factor), "0.001"),
        "factor_kg_per_kwh": str(factor.value),
        "factor_source": factor.source,
        "factor_year": factor.year,
    }


_ROWS = (
    Calculation(
        "orifice-flow",
        "Flow through a hole of known size",
        orifice_flow,
        schemas.ORIFICE_FLOW,
        {"gas": "air", "diameter_m": 0.0016, "edge": "sharp", "pressure_gauge_pa": 700000.0},
        "Isentropic nozzle with discharge coefficient (ISO 9300 form); uncertainty by JCGM 100.",
    ),
    Calculation(
        "leak-cost",
        "Power and cost of a lost flow",
        leak_cost,
        schemas.LEAK_COST,
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
        "pressure-decay",
        "Leak flow of a closed volume that loses pressure",
        pressure_decay,
        schemas.PRESSURE_DECAY,
        {"volume_m3": 4.0, "start_gauge_pa": 700000.0, "end_gauge_pa": 600000.0, "duration_s": 300.0},
        "Ideal gas at constant temperature; the 1.25 convention of the DOE sourcebook is from memory.",
    ),
    Calculation(
        "load-unload",
        "Leakage from a compressor's load and unload times without demand",
        load_unload,
        schemas.LOAD_UNLOAD,
        {"load_s": [31.0, 29.5, 30.2], "unload_s": [118.0, 121.0, 119.4], "capacity_m3_per_s": 0.083},
        "DOE compressed-air sourcebook.",
    ),
    Calculation(
        "specific-power",
        "Specific power of a compressor beside the least work",
        specific_power,
        schemas.SPECIFIC_POWER,
        {"power_w": 37000.0, "flow_m3_per_s": 0.1, "outlet_gauge_pa": 750000.0},
        "Isothermal and adiabatic work of an ideal gas from 1 bar.",
    ),
    Calculation(
        "convert-flow-reference",
        "A flow at another reference state",
        convert_flow_reference,
        schemas.CONVERT_FLOW_REFERENCE,
        {"flow_m3_per_s": 0.01, "from_state": "normal", "to_state": "bar20"},
        "Ideal dry gas: the mass flow stays.",
    ),
    Calculation(
        "co2e-electricity",
        "CO2e of electricity",
        co2e_electricity,
        schemas.CO2E_ELECTRICITY,
        {
            "energy_kwh": "1250",
            "factor_kg_per_kwh": "0.363",
            "factor_source": "grid operator's yearly table",
            "factor_year": 2024,
        },
        "Energy times the stated grid factor.",
    ),
)

CALCULATIONS: Mapping[str, Calculation] = MappingProxyType({row.name: row for row in _ROWS})
