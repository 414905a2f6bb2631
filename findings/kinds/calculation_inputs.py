"""The input schemas of the calculations; every field carries its unit in its name."""

from typing import Any

from findings.physics.gases import GASES
from findings.physics.leak_flow import Edge
from findings.physics.reference_states import DEFAULT_STATE, STATES

Schema = dict[str, Any]


def positive(most: float, description: str) -> Schema:
    """Return the schema of a number above zero."""
    return {"type": "number", "exclusiveMinimum": 0, "maximum": most, "description": description}


def at_least_zero(most: float, description: str) -> Schema:
    """Return the schema of a number not below zero."""
    return {"type": "number", "minimum": 0, "maximum": most, "description": description}


def exact(most: int, description: str) -> Schema:
    """Return the schema of an exact decimal not below zero, written as a string or a number."""
    return {
        "type": ["string", "number"],
        "format": "decimal",
        "minimum": 0,
        "maximum": most,
        "description": description,
    }


def choice(words: list[str], description: str, default: str | None = None) -> Schema:
    """Return the schema of one word out of several."""
    schema: Schema = {"type": "string", "enum": words, "description": description}
    return schema if default is None else {**schema, "default": default}


def inputs(required: list[str], properties: dict[str, Schema]) -> Schema:
    """Return the schema of a calculation's whole input."""
    return {
        "type": "object",
        "required": required,
        "properties": properties,
        "additionalProperties": False,
    }


ATMOSPHERE = {**positive(2e5, "Atmosphere, Pa absolute."), "default": 101325.0}
TEMPERATURE = {**positive(2000.0, "Gas temperature, K."), "default": 293.15}
STATE = choice(list(STATES), "Reference state of the flow given back.", DEFAULT_STATE.key)
TIMES = {
    "type": "array",
    "minItems": 1,
    "maxItems": 1000,
    "items": at_least_zero(1e6, "Time, s."),
}

ORIFICE_FLOW = inputs(
    ["diameter_m", "pressure_gauge_pa"],
    {
        "gas": choice(list(GASES), "The gas that flows.", "air"),
        "diameter_m": {"type": "number", "minimum": -1e3, "maximum": 1e3, "description": "Hole diameter, m."},
        "diameter_u_m": {**at_least_zero(1.0, "Its standard uncertainty, m."), "default": 0.0},
        "edge": choice([edge.value for edge in Edge], "Shape of the hole's inlet.", Edge.UNKNOWN.value),
        "discharge_coefficient": positive(1.0, "Its own coefficient, where known."),
        "discharge_coefficient_u": at_least_zero(1.0, "Its standard uncertainty."),
        "pressure_gauge_pa": {
            "type": "number",
            "minimum": -1e9,
            "maximum": 1e9,
            "description": "Pressure before the hole, Pa gauge.",
        },
        "pressure_u_pa": {**at_least_zero(1e8, "Its standard uncertainty, Pa."), "default": 0.0},
        "downstream_absolute_pa": at_least_zero(1e9, "Pressure behind the hole; else the atmosphere."),
        "atmosphere_absolute_pa": ATMOSPHERE,
        "temperature_k": TEMPERATURE,
        "temperature_u_k": {**at_least_zero(100.0, "Its standard uncertainty, K."), "default": 0.0},
        "reference_state": STATE,
    },
)

LEAK_COST = inputs(
    ["flow_m3_per_s", "price_per_kwh", "currency"],
    {
        "flow_m3_per_s": exact(1000, "Lost flow at the reference state of the specific energy, m3/s."),
        "specific_energy_j_per_m3": exact(10**9, "Energy per m3 of delivered air, J/m3."),
        "specific_power_kw_per_m3_per_min": exact(1000, "The same as kW per m3/min."),
        "specific_power_kw_per_100_cfm": exact(1000, "The same as kW per 100 cfm."),
        "price_per_kwh": exact(10**9, "Price of electricity per kWh."),
        "currency": {
            "type": "string",
            "minLength": 3,
            "maxLength": 3,
            "description": "ISO 4217 code of the price.",
        },
        "hours_per_year": exact(8784, "Hours a year under pressure."),
        "marginal_factor": exact(1, "Part of the full-load value that the machine's control really saves."),
    },
)

PRESSURE_DECAY = inputs(
    ["volume_m3", "start_gauge_pa", "end_gauge_pa", "duration_s"],
    {
        "volume_m3": positive(1e6, "Closed volume, m3."),
        "volume_u_m3": {**at_least_zero(1e6, "Its standard uncertainty, m3."), "default": 0.0},
        "start_gauge_pa": at_least_zero(1e8, "Pressure at the start, Pa gauge."),
        "end_gauge_pa": at_least_zero(1e8, "Pressure at the end, Pa gauge."),
        "pressure_u_pa": {**at_least_zero(1e7, "Standard uncertainty of both, Pa."), "default": 0.0},
        "duration_s": positive(1e7, "Duration, s."),
        "duration_u_s": {**at_least_zero(1e6, "Its standard uncertainty, s."), "default": 0.0},
        "atmosphere_absolute_pa": ATMOSPHERE,
        "temperature_k": TEMPERATURE,
        "reference_state": STATE,
    },
)

LOAD_UNLOAD = inputs(
    ["load_s", "unload_s"],
    {
        "load_s": {**TIMES, "description": "On-load times of whole cycles without demand, s."},
        "unload_s": {**TIMES, "description": "Off-load times of the same cycles, s."},
        "capacity_m3_per_s": positive(100.0, "The machine's delivery at the reference state, m3/s."),
        "capacity_u_m3_per_s": {**at_least_zero(100.0, "Its standard uncertainty, m3/s."), "default": 0.0},
        "loaded_power_w": positive(1e8, "Power on load, W."),
        "unloaded_power_w": at_least_zero(1e8, "Power off load, W."),
        "reference_state": STATE,
    },
)

SPECIFIC_POWER = inputs(
    ["power_w", "flow_m3_per_s", "outlet_gauge_pa"],
    {
        "power_w": positive(1e8, "Power taken, W."),
        "flow_m3_per_s": positive(1000.0, "Delivery at 1 bar 20 °C, m3/s."),
        "outlet_gauge_pa": positive(1e8, "Delivery pressure, Pa gauge."),
        "atmosphere_absolute_pa": ATMOSPHERE,
    },
)

CONVERT_FLOW_REFERENCE = inputs(
    ["flow_m3_per_s", "from_state", "to_state"],
    {
        "flow_m3_per_s": at_least_zero(1e6, "Dry-gas flow at from_state, m3/s."),
        "from_state": choice(list(STATES), "State the flow refers to."),
        "to_state": choice(list(STATES), "State wanted."),
    },
)

CO2E_ELECTRICITY = inputs(
    ["energy_kwh", "factor_kg_per_kwh", "factor_source", "factor_year"],
    {
        "energy_kwh": exact(10**12, "Electric energy, kWh."),
        "factor_kg_per_kwh": exact(100, "Grid factor, kg CO2e per kWh."),
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
