"""Flow through an opening, and a flow at another reference state."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import STANDARD_ATMOSPHERE_PA, flow_answer
from findings.kinds.calculations.calculation import Calculation, Json
from findings.physics.gases import GASES
from findings.physics.leak_flow import Conditions, Edge, Opening, leak_flow
from findings.physics.reference_states import DEFAULT_STATE, STATES, convert_flow, density_kg_per_m3
from findings.physics.uncertainty import Uncertain

ORIFICE_FLOW = schemas.inputs(
    ["diameter_m", "pressure_gauge_pa"],
    {
        "gas": schemas.choice(list(GASES), "The gas that flows.", "air"),
        "diameter_m": {"type": "number", "minimum": -1e3, "maximum": 1e3, "description": "Hole diameter, m."},
        "diameter_u_m": {**schemas.at_least_zero(1.0, "Its standard uncertainty, m."), "default": 0.0},
        "edge": schemas.choice(
            [edge.value for edge in Edge], "Shape of the hole's inlet.", Edge.UNKNOWN.value
        ),
        "discharge_coefficient": schemas.positive(1.0, "Its own coefficient, where known."),
        "discharge_coefficient_u": schemas.at_least_zero(1.0, "Its standard uncertainty."),
        "pressure_gauge_pa": {
            "type": "number",
            "minimum": -1e9,
            "maximum": 1e9,
            "description": "Pressure before the hole, Pa gauge.",
        },
        "pressure_u_pa": schemas.PRESSURE_U,
        "downstream_absolute_pa": schemas.at_least_zero(
            1e9, "Pressure behind the hole; else the atmosphere."
        ),
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
        "temperature_k": schemas.TEMPERATURE,
        "temperature_u_k": schemas.TEMPERATURE_U,
        "reference_state": schemas.STATE,
    },
)

CONVERT_FLOW_REFERENCE = schemas.inputs(
    ["flow_m3_per_s", "from_state", "to_state"],
    {
        "flow_m3_per_s": schemas.at_least_zero(1e6, "Dry-gas flow at from_state, m3/s."),
        "from_state": schemas.choice(list(STATES), "State the flow refers to."),
        "to_state": schemas.choice(list(STATES), "State wanted."),
    },
)

ORIFICE_FLOW_ANSWER = schemas.answer(
    {
        **schemas.FLOW_ANSWER,
        "mass_flow_kg_per_s": schemas.result("The same as mass, kg/s."),
        "regime": schemas.result("choked: the downstream pressure no longer matters; or subsonic.", "string"),
        "gas": schemas.choice(list(GASES), "The gas."),
    }
)

CONVERT_FLOW_REFERENCE_ANSWER = schemas.answer(
    {
        "flow_m3_per_s": schemas.result("The flow at the state wanted, m3/s."),
        "reference_state": schemas.choice(list(STATES), "That state."),
    }
)


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
    return {**flow_answer(estimate), "mass_flow_kg_per_s": mass, "regime": regime, "gas": gas.key}


def convert_flow_reference(data: Mapping[str, Any]) -> Json:
    """Return a dry gas's volume flow at another reference state."""
    flow = convert_flow(data["flow_m3_per_s"], STATES[data["from_state"]], STATES[data["to_state"]])
    return {"flow_m3_per_s": flow, "reference_state": data["to_state"]}


ROWS = (
    Calculation(
        "orifice-flow",
        "Flow through a hole of known size",
        orifice_flow,
        ORIFICE_FLOW,
        ORIFICE_FLOW_ANSWER,
        {"gas": "air", "diameter_m": 0.0016, "edge": "sharp", "pressure_gauge_pa": 700000.0},
        "Isentropic nozzle with discharge coefficient (ISO 9300 form); uncertainty by JCGM 100.",
    ),
    Calculation(
        "convert-flow-reference",
        "A flow at another reference state",
        convert_flow_reference,
        CONVERT_FLOW_REFERENCE,
        CONVERT_FLOW_REFERENCE_ANSWER,
        {"flow_m3_per_s": 0.01, "from_state": "normal", "to_state": "bar20"},
        "Ideal dry gas: the mass flow stays.",
    ),
)
