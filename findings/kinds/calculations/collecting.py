"""Flow that was caught: in a bag, under a cylinder of water, as bubbles."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.calculations import schemas, warnings
from findings.kinds.calculations.answers import STANDARD_ATMOSPHERE_PA, flow_answer, uncertain
from findings.kinds.calculations.calculation import Calculation, Json
from findings.physics import direct_flow, water_bath
from findings.physics.estimate import Estimate
from findings.physics.gases import GASES
from findings.physics.reference_states import DEFAULT_STATE, STATES
from findings.physics.uncertainty import Uncertain

RUNS = {**schemas.TIMES, "maxItems": 100, "description": "Time of each run that filled it, s; three or more."}
TIME_U = {**schemas.at_least_zero(1e3, "Standard uncertainty of a time, s."), "default": 0.4}
ATMOSPHERE_U = {**schemas.at_least_zero(1e5, "Its standard uncertainty, Pa."), "default": 500.0}
TEMPERATURE_U = {**schemas.at_least_zero(100.0, "Its standard uncertainty, K."), "default": 2.0}
VOLUME = {
    "volume_m3": schemas.positive(1e3, "Volume that was filled, m3."),
    "volume_u_m3": {**schemas.at_least_zero(1e3, "Its standard uncertainty, m3."), "default": 0.0},
}
GAS = schemas.choice(list(GASES), "The gas that was caught.", "air")

BAG_FLOW = schemas.inputs(
    ["volume_m3", "times_s"],
    {
        **VOLUME,
        "times_s": RUNS,
        "time_u_s": TIME_U,
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
        "atmosphere_u_pa": ATMOSPHERE_U,
        "temperature_k": schemas.TEMPERATURE,
        "temperature_u_k": TEMPERATURE_U,
        "gas": GAS,
        "reference_state": schemas.STATE,
    },
)
CYLINDER_FLOW = schemas.inputs(
    ["volume_m3", "times_s"],
    {
        **BAG_FLOW["properties"],
        "level_m": {
            "type": "number",
            "minimum": -10,
            "maximum": 10,
            "default": 0.0,
            "description": "Water inside above the bath when the volume was read, m; below zero: under it.",
        },
        "level_u_m": {**schemas.at_least_zero(10.0, "Its standard uncertainty, m."), "default": 0.002},
    },
)
BUBBLE_FLOW = schemas.inputs(
    ["bubbles", "duration_s", "bubble_diameter_m"],
    {
        "bubbles": {"type": "integer", "minimum": 1, "maximum": 10**6, "description": "Bubbles counted."},
        "duration_s": schemas.positive(1e6, "Time of the count, s."),
        "duration_u_s": {**schemas.at_least_zero(1e6, "Its standard uncertainty, s."), "default": 0.0},
        "bubble_diameter_m": schemas.positive(1.0, "Width of a bubble, m."),
        "bubble_diameter_u_m": {
            **schemas.at_least_zero(1.0, "Its standard uncertainty, m; a fifth at least is taken."),
            "default": 0.0,
        },
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
        "temperature_k": schemas.TEMPERATURE,
        "gas": GAS,
        "reference_state": schemas.STATE,
    },
)
CAUGHT_FLOW_ANSWER = schemas.answer({**schemas.FLOW_ANSWER, "cautions": warnings.CAUTIONS_ANSWER})


def bag_flow(data: Mapping[str, Any]) -> Json:
    """Return the flow that filled a bag."""
    estimate = direct_flow.bag_flow(
        *_fill(data),
        pressure_pa=_atmosphere(data),
        temperature_k=_temperature(data),
        state=STATES[data.get("reference_state", DEFAULT_STATE.key)],
    )
    return _caught(estimate, data)


def cylinder_flow(data: Mapping[str, Any]) -> Json:
    """Return the flow that displaced the water of a cylinder."""
    estimate = water_bath.cylinder_flow(
        *_fill(data),
        atmosphere_pa=_atmosphere(data),
        temperature_k=_temperature(data),
        level_m=uncertain({"level_u_m": 0.002, **data}, "level_m", "level_u_m", 0.0),
        gas=data.get("gas", "air"),
        state=STATES[data.get("reference_state", DEFAULT_STATE.key)],
    )
    return _caught(estimate, data)


def bubble_flow(data: Mapping[str, Any]) -> Json:
    """Return the class of a leak by its bubbles."""
    estimate = water_bath.bubble_flow(
        data["bubbles"],
        uncertain(data, "duration_s", "duration_u_s"),
        uncertain(data, "bubble_diameter_m", "bubble_diameter_u_m"),
        atmosphere_pa=float(data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA)),
        temperature_k=float(data.get("temperature_k", 293.15)),
        state=STATES[data.get("reference_state", DEFAULT_STATE.key)],
    )
    return {**flow_answer(estimate), "cautions": warnings.of_gas(data.get("gas", "air"))}


def _fill(data: Mapping[str, Any]) -> tuple[Uncertain, list[float], float]:
    """Return the volume that was filled, the times it took and their standard uncertainty."""
    return uncertain(data, "volume_m3", "volume_u_m3"), data["times_s"], float(data.get("time_u_s", 0.4))


def _atmosphere(data: Mapping[str, Any]) -> Uncertain:
    """Return the pressure around the vessel."""
    usual = {"atmosphere_u_pa": 500.0, **data}
    return uncertain(usual, "atmosphere_absolute_pa", "atmosphere_u_pa", STANDARD_ATMOSPHERE_PA)


def _temperature(data: Mapping[str, Any]) -> Uncertain:
    """Return the temperature of what was caught."""
    return uncertain({"temperature_u_k": 2.0, **data}, "temperature_k", "temperature_u_k", 293.15)


def _caught(estimate: Estimate, data: Mapping[str, Any]) -> Json:
    """Return the answer with what to mind when gas is caught."""
    return {**flow_answer(estimate), "cautions": warnings.of_gas(data.get("gas", "air"), warnings.CAUGHT_GAS)}


ROWS = (
    Calculation(
        "bag-flow",
        "Leak flow caught in a bag of known volume",
        bag_flow,
        BAG_FLOW,
        CAUGHT_FLOW_ANSWER,
        {"volume_m3": 0.01, "volume_u_m3": 0.0003, "times_s": [14.1, 14.3, 14.2]},
        "Ideal gas; the calibrated-bag rule of 40 CFR 98.234 is from memory.",
    ),
    Calculation(
        "cylinder-flow",
        "Leak flow caught in a cylinder upside down over water",
        cylinder_flow,
        CYLINDER_FLOW,
        CAUGHT_FLOW_ANSWER,
        {"volume_m3": 0.001, "volume_u_m3": 0.00001, "times_s": [61.0, 60.2, 60.6], "level_m": -0.05},
        "Ideal gas less water vapour (ISO 9613-1, annex B) and water column.",
    ),
    Calculation(
        "bubble-flow",
        "Class of a leak by its bubbles",
        bubble_flow,
        BUBBLE_FLOW,
        CAUGHT_FLOW_ANSWER,
        {"bubbles": 40, "duration_s": 60.0, "bubble_diameter_m": 0.004},
        "Volume of spheres; a bubble's width is read to a fifth at best (judgement).",
    ),
)
