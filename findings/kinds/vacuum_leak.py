"""A leak of air into a line or vessel under vacuum: what comes in and what the pump must take."""

from dataclasses import dataclass, replace

from findings.kinds.base import Kind, Medium
from findings.kinds.definition import KindOfFinding
from findings.kinds.known_flow import (
    KnownFlow,
    measured,
    problems_of_measured,
    problems_of_state,
    stated,
)
from findings.physics.estimate import Estimate, Reason, refused
from findings.physics.gases import GASES
from findings.physics.leak_flow import Conditions, Edge, Opening, leak_flow
from findings.physics.uncertainty import Uncertain

DEFINITION = KindOfFinding(
    kind=Kind.VACUUM_LEAK,
    label="Vacuum leak",
    heard_by="airborne sensor",
    takes=frozenset(
        {
            "level_db",
            "background_db",
            "distance_m",
            "diameter_m",
            "edge",
            "line_absolute_pa",
            "temperature_k",
            "measured_flow_m3_per_s",
            "stated_flow_m3_per_s",
        }
    ),
    needs=frozenset(),
    media=frozenset({Medium.VACUUM}),
    loses_gas=True,
)

ASSUMED_TEMPERATURE_K = 293.15
ASSUMED_DIAMETER_RELATIVE_U = 0.10
LINE_U_PA = 2000.0


@dataclass(frozen=True, kw_only=True)
class VacuumLeakEvidence(KnownFlow):
    """What is known about a vacuum leak: absolute pressures in Pa, diameter in m, temperatures in K.

    ``line_absolute_pa`` is beside the leak, ``pump_inlet_absolute_pa`` at the pump (the line's where
    it isn't given); ``temperature_k`` is of the room that the air comes from.
    """

    line_absolute_pa: float | None = None
    pump_inlet_absolute_pa: float | None = None
    pump_inlet_temperature_k: float | None = None
    atmosphere_pa: float = 101325.0
    temperature_k: float | None = None
    diameter_m: float | None = None
    diameter_u_m: float | None = None
    edge: Edge = Edge.UNKNOWN


def assess(evidence: VacuumLeakEvidence) -> Estimate:
    """Return the air that comes in, in m3/s at 1 bar 20 °C, or a refusal naming what is missing.

    A measured flow goes before a stated one, a stated one before the hole's size. The outside air
    drives it: below about 0.53 of the atmosphere a deeper vacuum adds no mass. Its cost isn't a
    compressor's: the pump takes the ``pump_inlet_flow_m3_per_s`` of the inputs.
    """
    passed: list[Reason] = []
    for attempt in (_measured, _stated, _through_hole):
        estimate = attempt(evidence)
        if estimate is not None and not estimate.is_refused:
            merged = tuple(dict.fromkeys((*estimate.reasons, *passed)))
            return _with_pump(replace(estimate, reasons=merged), evidence)
        passed += estimate.reasons if estimate is not None else ()
    return _refusal(tuple(dict.fromkeys(passed)))


def _measured(evidence: VacuumLeakEvidence) -> Estimate | None:
    """Return the measured flow, if there is one."""
    if evidence.measured_flow_m3_per_s is None:
        return None
    problems = problems_of_measured(evidence)
    return _refusal(problems) if problems else measured(evidence, evidence.measured_flow_m3_per_s)


def _stated(evidence: VacuumLeakEvidence) -> Estimate | None:
    """Return the stated flow, if there is one."""
    if evidence.stated_flow_m3_per_s is None:
        return None
    problems = problems_of_state(evidence.stated_state)
    return _refusal(problems) if problems else stated(evidence, evidence.stated_flow_m3_per_s)


def _through_hole(evidence: VacuumLeakEvidence) -> Estimate:
    """Return the inflow from the hole's size and the pressures."""
    missing = []
    if evidence.diameter_m is None:
        missing.append(Reason("diameter_missing", "The hole's diameter isn't known."))
    if evidence.line_absolute_pa is None:
        missing.append(Reason("pressure_missing", "The absolute pressure in the line isn't known."))
    if evidence.diameter_m is None or evidence.line_absolute_pa is None:
        return _refusal(tuple(missing))
    diameter_u = evidence.diameter_u_m
    if diameter_u is None:
        diameter_u = abs(evidence.diameter_m) * ASSUMED_DIAMETER_RELATIVE_U
    opening = Opening(Uncertain(evidence.diameter_m, diameter_u), evidence.edge)
    temperature = evidence.temperature_k if evidence.temperature_k is not None else ASSUMED_TEMPERATURE_K
    conditions = Conditions(
        Uncertain(evidence.atmosphere_pa, LINE_U_PA), evidence.line_absolute_pa, Uncertain(temperature, 8.0)
    )
    return leak_flow(opening, conditions, GASES["air"])


def _with_pump(estimate: Estimate, evidence: VacuumLeakEvidence) -> Estimate:
    """Return the estimate with what the pump must take of it, where its pressure is known."""
    inlet = evidence.pump_inlet_absolute_pa or evidence.line_absolute_pa
    if inlet is None or not inlet > 0.0 or estimate.value is None:
        text = "The pressure at the pump isn't known, so what the pump must take isn't either."
        return replace(estimate, reasons=(*estimate.reasons, Reason("pump_inlet_unknown", text)))
    temperature = evidence.pump_inlet_temperature_k or ASSUMED_TEMPERATURE_K
    taken = {
        name: pump_inlet_flow_m3_per_s(flow, inlet, temperature)
        for name, flow in (
            ("pump_inlet_flow_m3_per_s", estimate.value),
            ("pump_inlet_flow_low_m3_per_s", estimate.low),
            ("pump_inlet_flow_high_m3_per_s", estimate.high),
        )
        if flow is not None
    }
    at_pump = {"pump_inlet_absolute_pa": inlet, "pump_inlet_temperature_k": temperature, **taken}
    return replace(estimate, inputs={**estimate.inputs, **at_pump})


def _refusal(reasons: tuple[Reason, ...]) -> Estimate:
    """Return the refusal of an assessment."""
    return refused(unit="m3/s", method="vacuum_leak", version="1", reasons=reasons, inputs={})


def pump_inlet_flow_m3_per_s(
    flow_bar20_m3_per_s: float, line_absolute_pa: float, temperature_k: float = ASSUMED_TEMPERATURE_K
) -> float:
    """Return the volume flow in m3/s the pump sees at the line's pressure."""
    return flow_bar20_m3_per_s * 1e5 / line_absolute_pa * temperature_k / 293.15
