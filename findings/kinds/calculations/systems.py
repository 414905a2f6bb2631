"""Leak flow of a whole system without demand: several machines' cycles, a line through several decays."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import STANDARD_ATMOSPHERE_PA, flow_answer, uncertain
from findings.kinds.calculations.calculation import Calculation, Json
from findings.physics import whole_system
from findings.physics.estimate import Reason, refused
from findings.physics.reference_states import DEFAULT_STATE, STATES
from findings.physics.whole_system import DecayStep, Machine

CYCLED = ("load_unload", "start_stop")
CONTROLS = [*CYCLED, "modulating", "variable_speed"]

LOAD_UNLOAD_MACHINES = schemas.inputs(
    ["machines"],
    {
        "machines": schemas.bounded(
            schemas.inputs(
                ["load_s", "unload_s", "capacity_m3_per_s"],
                {
                    "load_s": {**schemas.TIMES, "description": "On-load times of whole cycles, s."},
                    "unload_s": {**schemas.TIMES, "description": "Off-load times of the same cycles, s."},
                    "capacity_m3_per_s": schemas.positive(100.0, "Delivery at the reference state, m3/s."),
                    "capacity_u_m3_per_s": {
                        **schemas.at_least_zero(100.0, "Its standard uncertainty, m3/s."),
                        "default": 0.0,
                    },
                    "control": schemas.choice(CONTROLS, "How it is controlled.", "load_unload"),
                },
            ),
            20,
            "Machines that ran side by side without any demand; the times cover the same hours.",
        ),
        "time_u_s": {**schemas.at_least_zero(1e3, "Standard uncertainty of a time, s."), "default": 1.0},
        "shared_capacity_relative_u": {
            **schemas.at_least_zero(1.0, "What the capacities' uncertainties share, as a part of each."),
            "default": 0.0,
        },
        "reference_state": schemas.STATE,
    },
)
PRESSURE_DECAY_LINE = schemas.inputs(
    ["volume_m3", "steps", "working_gauge_pa"],
    {
        "volume_m3": schemas.positive(1e6, "Closed volume, m3."),
        "volume_u_m3": {**schemas.at_least_zero(1e6, "Its standard uncertainty, m3."), "default": 0.0},
        "steps": schemas.bounded(
            schemas.inputs(
                ["start_gauge_pa", "end_gauge_pa", "duration_s"],
                {
                    "start_gauge_pa": schemas.at_least_zero(1e8, "Pressure at the start, Pa gauge."),
                    "end_gauge_pa": schemas.at_least_zero(1e8, "Pressure at the end, Pa gauge."),
                    "duration_s": schemas.positive(1e7, "Time of the fall, s."),
                },
            ),
            500,
            "Falls timed one after another without demand; three or more.",
        ),
        "working_gauge_pa": schemas.positive(1e8, "Pressure that the loss is wanted at, Pa gauge."),
        "temperature_k": schemas.TEMPERATURE,
        "atmosphere_absolute_pa": schemas.ATMOSPHERE,
        "reference_state": schemas.STATE,
    },
)
SYSTEM_FLOW_ANSWER = schemas.answer(schemas.FLOW_ANSWER)


def load_unload_machines(data: Mapping[str, Any]) -> Json:
    """Return the leak flow by the cycles of several machines; refused where one runs without cycles."""
    state = STATES[data.get("reference_state", DEFAULT_STATE.key)]
    if any(row.get("control", "load_unload") not in CYCLED for row in data["machines"]):
        text = (
            "The times tell the leakage only of machines that load and unload, or start and stop; meter the "
            "flow of one that modulates or changes speed."
        )
        return flow_answer(
            refused(
                unit="m3/s",
                method="load_unload_machines",
                version="1",
                reasons=(Reason("control_not_timed", text),),
                inputs={"reference_state": state.key},
            )
        )
    machines = [
        Machine(row["load_s"], row["unload_s"], uncertain(row, "capacity_m3_per_s", "capacity_u_m3_per_s"))
        for row in data["machines"]
    ]
    return flow_answer(
        whole_system.machines_flow(
            machines,
            time_u_s=float(data.get("time_u_s", 1.0)),
            shared_capacity_relative_u=float(data.get("shared_capacity_relative_u", 0.0)),
            state=state,
        )
    )


def pressure_decay_line(data: Mapping[str, Any]) -> Json:
    """Return the leak flow at working pressure from a line through several decays."""
    atmosphere = float(data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA))
    steps = [
        DecayStep(row["start_gauge_pa"] + atmosphere, row["end_gauge_pa"] + atmosphere, row["duration_s"])
        for row in data["steps"]
    ]
    return flow_answer(
        whole_system.decay_line_flow(
            steps,
            uncertain(data, "volume_m3", "volume_u_m3"),
            data["working_gauge_pa"] + atmosphere,
            temperature_k=float(data.get("temperature_k", 293.15)),
            atmosphere_pa=atmosphere,
            state=STATES[data.get("reference_state", DEFAULT_STATE.key)],
        )
    )


ROWS = (
    Calculation(
        "load-unload-machines",
        "Leakage from the load and unload times of several compressors without demand",
        load_unload_machines,
        LOAD_UNLOAD_MACHINES,
        SYSTEM_FLOW_ANSWER,
        {
            "machines": [
                {"load_s": [610.0], "unload_s": [0.0], "capacity_m3_per_s": 0.05},
                {"load_s": [31.0, 29.5, 30.2], "unload_s": [118.0, 121.0, 119.4], "capacity_m3_per_s": 0.083},
            ],
            "shared_capacity_relative_u": 0.03,
        },
        "DOE compressed-air sourcebook; scatter of the cycles as of a ratio of means.",
    ),
    Calculation(
        "pressure-decay-line",
        "Leak flow at working pressure from a line through several decays",
        pressure_decay_line,
        PRESSURE_DECAY_LINE,
        SYSTEM_FLOW_ANSWER,
        {
            "volume_m3": 6.0,
            "volume_u_m3": 0.3,
            "steps": [
                {"start_gauge_pa": 650000.0, "end_gauge_pa": 550000.0, "duration_s": 240.0},
                {"start_gauge_pa": 550000.0, "end_gauge_pa": 450000.0, "duration_s": 283.0},
                {"start_gauge_pa": 450000.0, "end_gauge_pa": 350000.0, "duration_s": 342.0},
                {"start_gauge_pa": 350000.0, "end_gauge_pa": 250000.0, "duration_s": 437.0},
            ],
            "working_gauge_pa": 700000.0,
        },
        "Least squares as in NAVFAC MO-209, chapter 5; uncertainty of the line by JCGM 100, H.3.",
    ),
)
