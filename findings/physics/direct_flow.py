"""Leak flow that was measured or stated: bag, pressure decay, load and unload times, meter, a figure."""

import math
from collections.abc import Sequence

from findings.physics import compressor
from findings.physics.estimate import Estimate, Reason, Status
from findings.physics.gases import GASES, Gas
from findings.physics.measured import mean_of_runs, measured_flow, positive
from findings.physics.orifice import critical_pressure_ratio
from findings.physics.reference_states import DEFAULT_STATE, ReferenceState, convert_flow
from findings.physics.uncertainty import Uncertain

ASSUMED_STATED_RELATIVE_U = 0.25
LOAD_CYCLES = 3


def stated_flow(
    flow_m3_per_s: float,
    u_m3_per_s: float | None,
    *,
    source_state: ReferenceState = DEFAULT_STATE,
    state: ReferenceState = DEFAULT_STATE,
    status: Status = Status.STATED,
    method: str = "stated",
) -> Estimate:
    """Return a flow somebody stated, with its stated standard uncertainty, at another reference state.

    Without an uncertainty a quarter of the flow is taken, and said. Also used for a meter's reading,
    with ``status`` measured.
    """
    reasons = []
    if u_m3_per_s is None:
        u_m3_per_s = abs(flow_m3_per_s) * ASSUMED_STATED_RELATIVE_U
        text = "No uncertainty came with the flow; a quarter of it is assumed (judgement)."
        reasons.append(Reason("uncertainty_assumed", text))
    return measured_flow(
        lambda flow: convert_flow(flow, source_state, state),
        [Uncertain(flow_m3_per_s, u_m3_per_s)],
        method=method,
        status=status,
        reasons=reasons,
        problems=positive(flow=flow_m3_per_s),
        inputs={
            "flow_m3_per_s": flow_m3_per_s,
            "flow_u_m3_per_s": u_m3_per_s,
            "flow_state": source_state.key,
            "reference_state": state.key,
        },
    )


def bag_flow(
    volume_m3: Uncertain,
    times_s: Sequence[float],
    time_u_s: float,
    *,
    pressure_pa: Uncertain,
    temperature_k: Uncertain,
    state: ReferenceState = DEFAULT_STATE,
) -> Estimate:
    """Return the flow that filled a bag of known volume in the timed runs: (V/t)(p/p_ref)(T_ref/T).

    Pressure absolute. The whole leak is inside and the bag is slack (back pressure below 100 Pa).
    Refused below 5 s or when runs differ by more than 10 %; fewer than three runs are said.
    Never bag fuel or toxic gas without the site's gas-safety permit. Source: the calibrated-bag
    rule of 40 CFR 98.234, from memory.
    """
    mean, problems, reasons = mean_of_runs(times_s, "bag")
    problems += positive(volume=volume_m3.value, pressure=pressure_pa.value, temperature=temperature_k.value)
    return measured_flow(
        lambda v, t, p, temp: v / t * p / state.pressure_pa * state.temperature_k / temp,
        [volume_m3, Uncertain(mean, time_u_s), pressure_pa, temperature_k],
        method="bag",
        reasons=reasons,
        problems=problems,
        inputs={
            "volume_m3": volume_m3.value,
            "time_s": mean,
            "runs": len(times_s),
            "pressure_absolute_pa": pressure_pa.value,
            "temperature_k": temperature_k.value,
            "reference_state": state.key,
        },
    )


def pressure_decay_flow(
    volume_m3: Uncertain,
    start_pa: Uncertain,
    end_pa: Uncertain,
    duration_s: Uncertain,
    *,
    temperature_k: Uncertain,
    atmosphere_pa: float,
    end_temperature_k: Uncertain | None = None,
    state: ReferenceState = DEFAULT_STATE,
) -> Estimate:
    """Return the leak flow at the start pressure of a closed volume that loses pressure; absolute pressures.

    While the leak stays choked it falls with the pressure: V p_a ln(p_a/p_b)/(p_ref t) T_ref/T. If the end
    pressure no longer chokes it, the mean flow V (p_a - p_b)/(p_ref t) T_ref/T is given instead, and said.
    The end pressure is brought to the start's temperature; ``end_temperature_k`` None is a temperature that
    didn't change at all. Its u is that of the drift: 1 K is 0.34 % of the absolute pressure. No demand
    during the test.
    """
    a, b = start_pa.value, end_pa.value
    ending = end_temperature_k or Uncertain(temperature_k.value)
    problems = positive(
        volume=volume_m3.value,
        duration=duration_s.value,
        temperature=temperature_k.value,
        end_temperature=ending.value,
    )
    if not a > b >= atmosphere_pa > 0.0:
        text = "The pressure must fall during the test and end at or above the atmosphere."
        problems.append(Reason("no_pressure_fall", text))
    elif a - b < 5.0 * max(start_pa.u, end_pa.u):
        text = "The fall is less than five times the gauge's uncertainty; test longer."
        problems.append(Reason("fall_too_small", text))
    elif not problems and not a > b * temperature_k.value / ending.value:
        text = "The cooling alone explains the fall; test at a steady temperature."
        problems.append(Reason("temperature_explains_fall", text))
    choked = not problems and atmosphere_pa / b <= critical_pressure_ratio(GASES["air"].k)
    text = "The leak wasn't choked to the end of the test: this is the mean flow, at the mean pressure."
    reasons = [] if choked else [Reason("mean_flow", text)]

    def flow(v: float, p_a: float, p_b: float, t: float, temp: float, end: float) -> float:
        form = compressor.decay_flow_at_start_m3_per_s if choked else compressor.decay_flow_mean_m3_per_s
        at_end = end + temp - temperature_k.value  # one thermometer: both move together, the drift's u stays
        at_start = p_b * temp / at_end
        return form(v, p_a, at_start, t, atmosphere_pa=state.pressure_pa) * state.temperature_k / temp

    return measured_flow(
        flow,
        [volume_m3, start_pa, end_pa, duration_s, temperature_k, ending],
        method="pressure_decay",
        reasons=reasons,
        problems=problems,
        inputs={
            "volume_m3": volume_m3.value,
            "start_absolute_pa": a,
            "end_absolute_pa": b,
            "duration_s": duration_s.value,
            "temperature_k": temperature_k.value,
            "end_temperature_k": ending.value,
            "end_temperature_u_k": ending.u,
            "atmosphere_absolute_pa": atmosphere_pa,
            "reference_state": state.key,
        },
    )


def load_unload_flow(
    load_s: Sequence[float],
    unload_s: Sequence[float],
    capacity_m3_per_s: Uncertain,
    *,
    time_u_s: float = 1.0,
    state: ReferenceState = DEFAULT_STATE,
) -> Estimate:
    """Return the whole system's leak flow from a machine's load and unload times without any demand.

    Times of whole cycles in s, capacity at the reference state. For load/unload and start/stop
    control only. Fewer than three cycles are said. Source: DOE compressed-air sourcebook.
    """
    loaded, idle = float(sum(load_s)), float(sum(unload_s))
    problems = positive(capacity=capacity_m3_per_s.value)
    if (
        not load_s
        or len(load_s) != len(unload_s)
        or min((*load_s, *unload_s), default=-1.0) < 0.0
        or not loaded
    ):
        problems.append(Reason("cycles_incomplete", "Each cycle needs a load time and an unload time."))
    few = Reason("few_cycles", "Fewer than three cycles were timed.")
    cycle_u = time_u_s * math.sqrt(max(len(load_s), 1))
    return measured_flow(
        lambda on, off, capacity: compressor.leak_share(on, off) * capacity,
        [Uncertain(loaded, cycle_u), Uncertain(idle, cycle_u), capacity_m3_per_s],
        method="load_unload",
        reasons=[few] if len(load_s) < LOAD_CYCLES else [],
        problems=problems,
        inputs={
            "load_s": loaded,
            "unload_s": idle,
            "cycles": len(load_s),
            "capacity_m3_per_s": capacity_m3_per_s.value,
            "reference_state": state.key,
        },
    )


def variable_area_flow(
    reading_m3_per_s: Uncertain,
    *,
    pressure_pa: Uncertain,
    temperature_k: Uncertain,
    scale_pressure_pa: float,
    scale_temperature_k: float,
    gases: tuple[Gas, Gas] = (GASES["air"], GASES["air"]),
    states: tuple[ReferenceState, ReferenceState] = (DEFAULT_STATE, DEFAULT_STATE),
) -> Estimate:
    """Return the flow of a variable-area meter read away from the state its scale was made for.

    Q = reading sqrt((p/p_c)(T_c/T)(M_c/M)), pressures absolute. ``gases`` are (of the scale, met),
    ``states`` the references of (the scale, the answer). Thermal meters: use their certificate instead.
    """
    scale_gas, gas = gases
    scale_state, state = states
    molar = scale_gas.molar_mass_kg_per_mol / gas.molar_mass_kg_per_mol
    problems = positive(
        reading=reading_m3_per_s.value,
        pressure=pressure_pa.value,
        temperature=temperature_k.value,
        scale_pressure=scale_pressure_pa,
        scale_temperature=scale_temperature_k,
    )

    def flow(reading: float, pressure: float, temperature: float) -> float:
        ratio = pressure / scale_pressure_pa * scale_temperature_k / temperature * molar
        return convert_flow(reading * math.sqrt(ratio), scale_state, state)

    return measured_flow(
        flow,
        [reading_m3_per_s, pressure_pa, temperature_k],
        method="variable_area_meter",
        reasons=[],
        problems=problems,
        inputs={
            "reading_m3_per_s": reading_m3_per_s.value,
            "pressure_absolute_pa": pressure_pa.value,
            "temperature_k": temperature_k.value,
            "scale_pressure_absolute_pa": scale_pressure_pa,
            "scale_temperature_k": scale_temperature_k,
            "gas": gas.key,
            "reference_state": state.key,
        },
    )
