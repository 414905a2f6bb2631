"""Air flow through a component whose maker states C and b."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.calculations import schemas, warnings
from findings.kinds.calculations.answers import STANDARD_ATMOSPHERE_PA, flow_answer, uncertain
from findings.kinds.calculations.calculation import Calculation, Json
from findings.physics.component_flow import component_flow
from findings.physics.reference_states import DEFAULT_STATE, STATES

COMPONENT_FLOW = schemas.inputs(
    ["conductance_m3_per_s_pa", "critical_ratio", "pressure_gauge_pa"],
    {
        "conductance_m3_per_s_pa": schemas.positive(
            1.0, "Sonic conductance C, m3/(s Pa); 1 dm3/(s bar) is 1e-8."
        ),
        "conductance_u_m3_per_s_pa": {
            **schemas.at_least_zero(1.0, "Its standard uncertainty, m3/(s Pa)."),
            "default": 0.0,
        },
        "critical_ratio": schemas.at_least_zero(10.0, "Critical pressure ratio b."),
        "critical_ratio_u": {**schemas.at_least_zero(1.0, "Its standard uncertainty."), "default": 0.0},
        "pressure_gauge_pa": {
            "type": "number",
            "minimum": -1e9,
            "maximum": 1e9,
            "description": "Pressure before it, Pa gauge.",
        },
        "pressure_u_pa": schemas.PRESSURE_U,
        "downstream_absolute_pa": schemas.at_least_zero(1e9, "Pressure behind it; else the atmosphere."),
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
        "temperature_k": schemas.TEMPERATURE,
        "temperature_u_k": schemas.TEMPERATURE_U,
        "reference_state": schemas.STATE,
    },
)
COMPONENT_FLOW_ANSWER = schemas.answer(
    {
        **schemas.FLOW_ANSWER,
        "regime": schemas.result("choked or subsonic; null where refused.", "string"),
        "cautions": warnings.CAUTIONS_ANSWER,
    }
)


def component(data: Mapping[str, Any]) -> Json:
    """Return the air flow of a component of known C and b."""
    atmosphere = float(data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA))
    gauge = uncertain(data, "pressure_gauge_pa", "pressure_u_pa")
    estimate = component_flow(
        uncertain(data, "conductance_m3_per_s_pa", "conductance_u_m3_per_s_pa"),
        uncertain(data, "critical_ratio", "critical_ratio_u"),
        upstream_pa=gauge._replace(value=gauge.value + atmosphere),
        downstream_pa=float(data.get("downstream_absolute_pa", atmosphere)),
        temperature_k=uncertain(data, "temperature_k", "temperature_u_k", 293.15),
        state=STATES[data.get("reference_state", DEFAULT_STATE.key)],
    )
    regime = None if estimate.is_refused else estimate.inputs["regime"]
    return {**flow_answer(estimate), "regime": regime, "cautions": warnings.of_gas("air")}


ROWS = (
    Calculation(
        "component-flow",
        "Air flow of a component of known conductance and critical ratio",
        component,
        COMPONENT_FLOW,
        COMPONENT_FLOW_ANSWER,
        {"conductance_m3_per_s_pa": 2.4e-9, "critical_ratio": 0.32, "pressure_gauge_pa": 600000.0},
        "ISO 6358-1, reference 1.185 kg/m3 and 293.15 K; refused in the laminar end.",
    ),
)
