"""Flow that was measured: pressure decay of a closed volume, load and unload times."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import STANDARD_ATMOSPHERE_PA, flow_answer, uncertain
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.physics import compressor, direct_flow
from findings.physics.reference_states import DEFAULT_STATE, STATES
from findings.physics.uncertainty import Uncertain

PRESSURE_DECAY = schemas.inputs(
    ["volume_m3", "start_gauge_pa", "end_gauge_pa", "duration_s"],
    {
        "volume_m3": schemas.positive(1e6, "Closed volume, m3."),
        "volume_u_m3": {**schemas.at_least_zero(1e6, "Its standard uncertainty, m3."), "default": 0.0},
        "start_gauge_pa": schemas.at_least_zero(1e8, "Pressure at the start, Pa gauge."),
        "end_gauge_pa": schemas.at_least_zero(1e8, "Pressure at the end, Pa gauge."),
        "pressure_u_pa": {**schemas.at_least_zero(1e7, "Standard uncertainty of both, Pa."), "default": 0.0},
        "duration_s": schemas.positive(1e7, "Duration, s."),
        "duration_u_s": {**schemas.at_least_zero(1e6, "Its standard uncertainty, s."), "default": 0.0},
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
        "temperature_k": schemas.TEMPERATURE,
        "temperature_rise_k": {
            "type": "number",
            "minimum": -100,
            "maximum": 100,
            "default": 0.0,
            "description": "How much warmer the air was at the end than at the start, K.",
        },
        "temperature_rise_u_k": {
            **schemas.at_least_zero(100.0, "Its standard uncertainty, K; 1 K is 0.34 % of the pressure."),
            "default": 0.0,
        },
        "reference_state": schemas.STATE,
    },
)

LOAD_UNLOAD = schemas.inputs(
    ["load_s", "unload_s"],
    {
        "load_s": {**schemas.TIMES, "description": "On-load times of whole cycles without demand, s."},
        "unload_s": {**schemas.TIMES, "description": "Off-load times of the same cycles, s."},
        "capacity_m3_per_s": schemas.positive(100.0, "The machine's delivery at the reference state, m3/s."),
        "capacity_u_m3_per_s": {
            **schemas.at_least_zero(100.0, "Its standard uncertainty, m3/s."),
            "default": 0.0,
        },
        "loaded_power_w": schemas.positive(1e8, "Power on load, W."),
        "unloaded_power_w": schemas.at_least_zero(1e8, "Power off load, W."),
        "reference_state": schemas.STATE,
    },
)

PRESSURE_DECAY_ANSWER = schemas.answer(
    {
        **schemas.FLOW_ANSWER,
        "mean_flow_m3_per_s": schemas.result("Mean flow over the test, m3/s."),
        "convention_flow_m3_per_s": schemas.result(
            "Mean flow times 1.25 where the gauge pressure at least halved (DOE convention), m3/s."
        ),
    }
)

LOAD_UNLOAD_ANSWER = schemas.answer(
    {"leak_share": schemas.result("Part of the machine's capacity that leaks, 0 to 1.")},
    {
        **schemas.FLOW_ANSWER,
        "mean_power_w": schemas.result("Mean power while nothing is used, W."),
    },
)


def pressure_decay(data: Mapping[str, Any]) -> Json:
    """Return the leak flow of a closed volume: at the start pressure, mean, and in the 1.25 convention."""
    state = STATES[data.get("reference_state", DEFAULT_STATE.key)]
    atmosphere = float(data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA))
    temperature = float(data.get("temperature_k", 293.15))
    start, end = data["start_gauge_pa"] + atmosphere, data["end_gauge_pa"] + atmosphere
    pressure_u = data.get("pressure_u_pa", 0.0)
    ending = uncertain(data, "temperature_rise_k", "temperature_rise_u_k", 0.0)
    ending = ending._replace(value=temperature + ending.value)
    estimate = direct_flow.pressure_decay_flow(
        Uncertain(data["volume_m3"], data.get("volume_u_m3", 0.0)),
        Uncertain(start, pressure_u),
        Uncertain(end, pressure_u),
        Uncertain(data["duration_s"], data.get("duration_u_s", 0.0)),
        temperature_k=Uncertain(temperature),
        end_temperature_k=ending,
        atmosphere_pa=atmosphere,
        state=state,
    )
    result = {**flow_answer(estimate), "mean_flow_m3_per_s": None, "convention_flow_m3_per_s": None}
    if not estimate.is_refused:
        mean = compressor.decay_flow_mean_m3_per_s(
            data["volume_m3"],
            start,
            end * temperature / ending.value,
            data["duration_s"],
            atmosphere_pa=state.pressure_pa,
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
        text = "must have one time per load time, and load times above 0"
        raise InvalidInput(Problem("/unload_s", text))
    share = compressor.leak_share(loaded, unloaded)
    result: Json = {"leak_share": share}
    if "capacity_m3_per_s" in data:
        estimate = direct_flow.load_unload_flow(
            data["load_s"],
            data["unload_s"],
            Uncertain(data["capacity_m3_per_s"], data.get("capacity_u_m3_per_s", 0.0)),
            state=STATES[data.get("reference_state", DEFAULT_STATE.key)],
        )
        result |= flow_answer(estimate)
    if "loaded_power_w" in data:
        idle = (1.0 - share) * data.get("unloaded_power_w", 0.0)
        result["mean_power_w"] = share * data["loaded_power_w"] + idle
    return result


ROWS = (
    Calculation(
        "pressure-decay",
        "Leak flow of a closed volume that loses pressure",
        pressure_decay,
        PRESSURE_DECAY,
        PRESSURE_DECAY_ANSWER,
        {"volume_m3": 4.0, "start_gauge_pa": 700000.0, "end_gauge_pa": 600000.0, "duration_s": 300.0},
        "Ideal gas at constant temperature; the 1.25 convention of the DOE sourcebook is from memory.",
    ),
    Calculation(
        "load-unload",
        "Leakage from a compressor's load and unload times without demand",
        load_unload,
        LOAD_UNLOAD,
        LOAD_UNLOAD_ANSWER,
        {"load_s": [31.0, 29.5, 30.2], "unload_s": [118.0, 121.0, 119.4], "capacity_m3_per_s": 0.083},
        "DOE compressed-air sourcebook.",
    ),
)
