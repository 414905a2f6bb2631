"""Flow that a meter showed: on a leak, or at night on the whole plant."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import STANDARD_ATMOSPHERE_PA, flow_answer, uncertain
from findings.kinds.calculations.calculation import Calculation, Json
from findings.physics import base_flow, direct_flow
from findings.physics.gases import GASES, Gas
from findings.physics.reference_states import DEFAULT_STATE, STATES, ReferenceState

READING = {
    "reading_m3_per_s": schemas.positive(100.0, "What the meter shows, m3/s."),
    "reading_u_m3_per_s": {**schemas.at_least_zero(100.0, "Its standard uncertainty, m3/s."), "default": 0.0},
    "scale_gas": schemas.choice(list(GASES), "Gas that the scale was made or certified for.", "air"),
    "scale_state": schemas.choice(list(STATES), "Reference state of the scale's volumes.", DEFAULT_STATE.key),
    "gas": schemas.choice(list(GASES), "Gas that flowed.", "air"),
    "reference_state": schemas.STATE,
}
VARIABLE_AREA_FLOW = schemas.inputs(
    ["reading_m3_per_s", "pressure_gauge_pa"],
    {
        **READING,
        "pressure_gauge_pa": {
            "type": "number",
            "minimum": -1e5,
            "maximum": 1e8,
            "description": "Pressure at the meter, Pa gauge.",
        },
        "pressure_u_pa": schemas.PRESSURE_U,
        "temperature_k": schemas.TEMPERATURE,
        "temperature_u_k": schemas.TEMPERATURE_U,
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
        "scale_absolute_pa": {**schemas.positive(1e8, "Pressure of the scale, Pa absolute."), "default": 1e5},
        "scale_temperature_k": {
            **schemas.positive(2000.0, "Temperature of the scale, K."),
            "default": 293.15,
        },
    },
)
THERMAL_METER_FLOW = schemas.inputs(["reading_m3_per_s"], READING)
METER_ANSWER = schemas.answer(schemas.FLOW_ANSWER)

BASE_FLOW = schemas.inputs(
    ["readings_m3_per_s"],
    {
        "readings_m3_per_s": schemas.bounded(
            schemas.at_least_zero(1e4, "Flow, m3/s."),
            20000,
            "Meter readings at even steps while nothing was made, m3/s; twenty or more.",
        ),
        "window": {
            "type": "integer",
            "minimum": 3,
            "maximum": 20000,
            "description": "Readings in a window, longer than the flow's waves; else a low quantile.",
        },
        "part": {
            **schemas.positive(0.5, "Quantile taken where no window is given."),
            "default": 0.05,
        },
        "users": schemas.bounded(
            schemas.inputs(
                ["flow_m3_per_s"],
                {
                    "name": {"type": "string", "minLength": 1, "maxLength": 60, "description": "What it is."},
                    "flow_m3_per_s": schemas.at_least_zero(1e4, "What it takes, m3/s."),
                    "flow_u_m3_per_s": {
                        **schemas.at_least_zero(1e4, "Its standard uncertainty, m3/s."),
                        "default": 0.0,
                    },
                },
            ),
            200,
            "What is known to have run all the time.",
            least=0,
        ),
        "meter_relative_u": {
            **schemas.at_least_zero(1.0, "The meter's standard uncertainty as a part of its reading."),
            "default": 0.0,
        },
        "meter_u_m3_per_s": {
            **schemas.at_least_zero(1e4, "The meter's zero and step as a standard uncertainty, m3/s."),
            "default": 0.0,
        },
        "reference_state": schemas.choice(
            list(STATES), "Reference state of every flow here.", DEFAULT_STATE.key
        ),
    },
)
BASE_FLOW_ANSWER = schemas.answer(
    {
        **schemas.FLOW_ANSWER,
        "base_flow_m3_per_s": schemas.result("Base flow with the known users in it, m3/s."),
        "base_flow_u_m3_per_s": schemas.result("Its standard uncertainty from the readings alone, m3/s."),
        "users_m3_per_s": schemas.result("What the known users take together, m3/s."),
    }
)


def variable_area_flow(data: Mapping[str, Any]) -> Json:
    """Return the flow of a variable-area meter away from the state of its scale."""
    atmosphere = float(data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA))
    pressure = uncertain(data, "pressure_gauge_pa", "pressure_u_pa")
    estimate = direct_flow.variable_area_flow(
        uncertain(data, "reading_m3_per_s", "reading_u_m3_per_s"),
        pressure_pa=pressure._replace(value=pressure.value + atmosphere),
        temperature_k=uncertain(data, "temperature_k", "temperature_u_k", 293.15),
        scale_pressure_pa=float(data.get("scale_absolute_pa", 1e5)),
        scale_temperature_k=float(data.get("scale_temperature_k", 293.15)),
        gases=_gases(data),
        states=_states(data),
    )
    return flow_answer(estimate)


def thermal_meter_flow(data: Mapping[str, Any]) -> Json:
    """Return the flow of a thermal meter at another reference state."""
    estimate = direct_flow.thermal_meter_flow(
        uncertain(data, "reading_m3_per_s", "reading_u_m3_per_s"),
        gases=_gases(data),
        states=_states(data),
    )
    return flow_answer(estimate)


def _gases(data: Mapping[str, Any]) -> tuple[Gas, Gas]:
    """Return the gases of the scale and of the pipe."""
    return GASES[data.get("scale_gas", "air")], GASES[data.get("gas", "air")]


def _states(data: Mapping[str, Any]) -> tuple[ReferenceState, ReferenceState]:
    """Return the reference states of the scale and of the answer."""
    of_scale, of_answer = (data.get(name, DEFAULT_STATE.key) for name in ("scale_state", "reference_state"))
    return STATES[of_scale], STATES[of_answer]


def leak_base_flow(data: Mapping[str, Any]) -> Json:
    """Return the leak flow that a night's base flow leaves beside the known users."""
    users = [uncertain(row, "flow_m3_per_s", "flow_u_m3_per_s") for row in data.get("users", [])]
    estimate = base_flow.base_flow(
        data["readings_m3_per_s"],
        window=data.get("window"),
        part=float(data.get("part", 0.05)),
        users=base_flow.sum_of_users(users),
        meter=base_flow.Meter(
            float(data.get("meter_relative_u", 0.0)), float(data.get("meter_u_m3_per_s", 0.0))
        ),
        state=STATES[data.get("reference_state", DEFAULT_STATE.key)],
    )
    figures = ("base_flow_m3_per_s", "base_flow_u_m3_per_s", "users_m3_per_s")
    return {**flow_answer(estimate), **{name: estimate.inputs[name] for name in figures}}


ROWS = (
    Calculation(
        "variable-area-flow",
        "Flow of a variable-area meter away from its scale",
        variable_area_flow,
        VARIABLE_AREA_FLOW,
        METER_ANSWER,
        {"reading_m3_per_s": 0.0012, "reading_u_m3_per_s": 0.00003, "pressure_gauge_pa": 300000.0},
        "Same float position at another density: root of pressure, temperature and molar mass.",
    ),
    Calculation(
        "thermal-meter-flow",
        "Flow of a thermal meter at another reference state",
        thermal_meter_flow,
        THERMAL_METER_FLOW,
        METER_ANSWER,
        {"reading_m3_per_s": 0.0012, "reading_u_m3_per_s": 0.00003, "scale_state": "normal"},
        "The meter follows the mass; for another gas only its certificate tells (common practice).",
    ),
    Calculation(
        "base-flow",
        "Leak flow from a meter's readings while nothing is made",
        leak_base_flow,
        BASE_FLOW,
        BASE_FLOW_ANSWER,
        {
            "readings_m3_per_s": [
                0.061,
                0.060,
                0.062,
                0.060,
                0.059,
                0.061,
                0.060,
                0.061,
                0.078,
                0.079,
                0.08,
                0.078,
                0.060,
                0.061,
                0.059,
                0.060,
                0.062,
                0.060,
                0.061,
                0.060,
            ],
            "window": 4,
            "users": [{"name": "dryer purge", "flow_m3_per_s": 0.012, "flow_u_m3_per_s": 0.001}],
            "meter_relative_u": 0.02,
        },
        "Steady windows of the lowest level, averaged where chance can't tell them apart (judgement).",
    ),
)
