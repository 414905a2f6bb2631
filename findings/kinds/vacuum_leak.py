"""A leak of air into a line or vessel under vacuum: what comes in and what the pump must take."""

from dataclasses import dataclass

from findings.kinds.base import Kind, Medium
from findings.kinds.definition import KindOfFinding
from findings.physics.estimate import Estimate, Reason, refused
from findings.physics.gases import GASES
from findings.physics.leak_flow import Conditions, Edge, Opening, leak_flow
from findings.physics.uncertainty import Uncertain

DEFINITION = KindOfFinding(
    kind=Kind.VACUUM_LEAK,
    label="Vacuum leak",
    heard_by="airborne sensor",
    takes=frozenset(
        {"level_db", "background_db", "distance_m", "diameter_m", "edge", "line_absolute_pa", "temperature_k"}
    ),
    needs=frozenset(),
    media=frozenset({Medium.VACUUM}),
    loses_gas=True,
)

ASSUMED_TEMPERATURE_K = 293.15
ASSUMED_DIAMETER_RELATIVE_U = 0.10
LINE_U_PA = 2000.0


@dataclass(frozen=True, kw_only=True)
class VacuumLeakEvidence:
    """What is known about a vacuum leak: absolute pressures in Pa, diameter in m, room temperature in K."""

    line_absolute_pa: float | None = None
    atmosphere_pa: float = 101325.0
    temperature_k: float | None = None
    diameter_m: float | None = None
    diameter_u_m: float | None = None
    edge: Edge = Edge.UNKNOWN


def assess(evidence: VacuumLeakEvidence) -> Estimate:
    """Return the air that comes in, in m3/s at 1 bar 20 °C, or a refusal naming what is missing.

    The outside air drives it: below about 0.53 of the atmosphere a deeper vacuum adds no mass.
    Its cost isn't a compressor's: the pump takes ``pump_inlet_flow_m3_per_s``.
    """
    missing = []
    if evidence.diameter_m is None:
        missing.append(Reason("diameter_missing", "The hole's diameter isn't known."))
    if evidence.line_absolute_pa is None:
        missing.append(Reason("pressure_missing", "The absolute pressure in the line isn't known."))
    if evidence.diameter_m is None or evidence.line_absolute_pa is None:
        return refused(unit="m3/s", method="orifice", version="1", reasons=tuple(missing), inputs={})
    diameter_u = evidence.diameter_u_m
    if diameter_u is None:
        diameter_u = abs(evidence.diameter_m) * ASSUMED_DIAMETER_RELATIVE_U
    opening = Opening(Uncertain(evidence.diameter_m, diameter_u), evidence.edge)
    temperature = evidence.temperature_k if evidence.temperature_k is not None else ASSUMED_TEMPERATURE_K
    conditions = Conditions(
        Uncertain(evidence.atmosphere_pa, LINE_U_PA), evidence.line_absolute_pa, Uncertain(temperature, 8.0)
    )
    return leak_flow(opening, conditions, GASES["air"])


def pump_inlet_flow_m3_per_s(
    flow_bar20_m3_per_s: float, line_absolute_pa: float, temperature_k: float = ASSUMED_TEMPERATURE_K
) -> float:
    """Return the volume flow in m3/s the pump sees at the line's pressure."""
    return flow_bar20_m3_per_s * 1e5 / line_absolute_pa * temperature_k / 293.15
