"""The flow of one leak through a hole of known size: value, interval and reasons, or a refusal."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from findings.physics import uncertainty
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.gases import Gas
from findings.physics.input_check import finite_or_none, number_problems
from findings.physics.orifice import circle_area_m2, critical_pressure_ratio, mass_flow_kg_per_s
from findings.physics.reference_states import DEFAULT_STATE, ReferenceState, volume_flow_m3_per_s
from findings.physics.uncertainty import Uncertain

METHOD = "orifice"
VERSION = "1"
TEMPERATURE_LIMITS_K = (200.0, 600.0)
LARGEST_DIAMETER_M = 0.0254
"""One inch, the largest hole of the published discharge tables; a larger one is a break, not a leak."""
HIGHEST_PRESSURE_PA = 4e7
NOTABLE_MODEL_ERROR = 0.02


class Edge(StrEnum):
    """Name the shape of the hole's inlet."""

    SHARP = "sharp"
    ROUNDED = "rounded"
    UNKNOWN = "unknown"


DISCHARGE_COEFFICIENTS = {
    # 0.61 and 0.97: US DOE compressed air tip sheet no. 3 (2004). The spreads are judgement, from published
    # values of 0.56 to 0.84 for sharp holes and 0.90 to 0.99 for rounded ones; so is the unknown hole's 0.80.
    Edge.SHARP: Uncertain(0.61, 0.08),
    Edge.ROUNDED: Uncertain(0.97, 0.03),
    Edge.UNKNOWN: Uncertain(0.80, 0.12),
}


@dataclass(frozen=True)
class Opening:
    """A round hole: diameter in m, edge, and its own discharge coefficient where one was measured."""

    diameter_m: Uncertain
    edge: Edge = Edge.UNKNOWN
    own_coefficient: Uncertain | None = None

    @property
    def discharge_coefficient(self) -> Uncertain:
        """Return the measured coefficient, else that of the edge."""
        return self.own_coefficient or DISCHARGE_COEFFICIENTS[self.edge]


@dataclass(frozen=True)
class Conditions:
    """Absolute pressures in Pa before and behind the hole and the temperature in K before it."""

    upstream_pa: Uncertain
    downstream_pa: float
    temperature_k: Uncertain


def _pressure_problems(conditions: Conditions, gas: Gas) -> list[Reason]:
    """Return why no flow follows from these pressures."""
    upstream, downstream = conditions.upstream_pa.value, conditions.downstream_pa
    problems = []
    if downstream < 0.0 or upstream <= 0.0:
        problems.append(Reason("pressure_below_vacuum", "An absolute pressure is never below zero."))
    elif upstream <= downstream:
        text = "The pressure before the hole isn't above the pressure behind it."
        problems.append(Reason("no_pressure_difference", text))
    if upstream > HIGHEST_PRESSURE_PA:
        problems.append(Reason("pressure_out_of_range", "The formula isn't used above 400 bar."))
    if gas.saturation and upstream > gas.saturation.pressure_pa(conditions.temperature_k.value):
        text = "At this pressure and temperature the content is liquid; the gas formula doesn't hold."
        problems.append(Reason("may_be_liquid", text))
    return problems


def problems_of(opening: Opening, conditions: Conditions, gas: Gas) -> tuple[Reason, ...]:
    """Return every reason for which the flow is refused; none means it can be computed."""
    coefficient = opening.discharge_coefficient
    quantities = (opening.diameter_m, conditions.upstream_pa, conditions.temperature_k, coefficient)
    numbers = number_problems(quantities, (conditions.downstream_pa,))
    if numbers:
        return numbers
    problems = []
    if not 0.0 < opening.diameter_m.value <= LARGEST_DIAMETER_M * (1.0 + 1e-9):
        text = "The hole must be wider than 0 and not wider than 25.4 mm."
        problems.append(Reason("diameter_out_of_range", text))
    if not 0.0 < coefficient.value <= 1.0:
        text = "A discharge coefficient lies above 0 and not above 1."
        problems.append(Reason("discharge_coefficient_out_of_range", text))
    lowest, highest = TEMPERATURE_LIMITS_K
    if not lowest <= conditions.temperature_k.value <= highest:
        text = "The gas temperature must lie between 200 K and 600 K."
        return (*problems, Reason("temperature_out_of_range", text))
    return (*problems, *_pressure_problems(conditions, gas))


def _remarks(opening: Opening, gas: Gas, model_error: float) -> tuple[Reason, ...]:
    """Return what a reader of the number should know."""
    remarks = []
    if opening.own_coefficient is None and opening.edge is Edge.UNKNOWN:
        text = "The hole's edge is unknown: coefficient 0.80, standard uncertainty 0.12 (judgement)."
        remarks.append(Reason("edge_unknown", text))
    if opening.own_coefficient is None and opening.edge is Edge.SHARP:
        text = "Sharp edge taken as 0.61; at high pressure ratios published values reach 0.84."
        remarks.append(Reason("sharp_edge_convention", text))
    if model_error > NOTABLE_MODEL_ERROR:
        name = gas.key.replace("_", " ")
        text = f"At this pressure {name} departs from the ideal gas by about {model_error:.0%}."
        remarks.append(Reason("ideal_gas_error", text))
    return tuple(remarks)


def _inputs(opening: Opening, conditions: Conditions, gas: Gas, state: ReferenceState) -> dict[str, Any]:
    """Return what was computed from, under names that carry the unit."""
    coefficient = opening.discharge_coefficient
    return {
        "gas": gas.key,
        "diameter_m": opening.diameter_m.value,
        "diameter_u_m": opening.diameter_m.u,
        "edge": opening.edge.value,
        "discharge_coefficient": coefficient.value,
        "discharge_coefficient_u": coefficient.u,
        "upstream_absolute_pa": conditions.upstream_pa.value,
        "upstream_u_pa": conditions.upstream_pa.u,
        "downstream_absolute_pa": conditions.downstream_pa,
        "temperature_k": conditions.temperature_k.value,
        "temperature_u_k": conditions.temperature_k.u,
        "reference_state": state.key,
    }


def _flow_model(
    downstream_pa: float, gas: Gas, state: ReferenceState
) -> Callable[[float, float, float, float], float]:
    """Return the flow in m3/s as a function of diameter, coefficient, upstream pressure and temperature."""

    def flow(diameter: float, coefficient: float, upstream: float, temperature: float) -> float:
        mass = mass_flow_kg_per_s(
            area_m2=circle_area_m2(diameter),
            upstream_pa=upstream,
            downstream_pa=downstream_pa,
            temperature_k=temperature,
            molar_mass_kg_per_mol=gas.molar_mass_kg_per_mol,
            k=gas.k,
            discharge_coefficient=coefficient,
        )
        return volume_flow_m3_per_s(mass, gas, state)

    return flow


def leak_flow(
    opening: Opening,
    conditions: Conditions,
    gas: Gas,
    *,
    state: ReferenceState = DEFAULT_STATE,
    gas_relative_u: float = 0.0,
) -> Estimate:
    """Estimate the flow of a hole in m3/s at the reference state, with a 95 % interval not below zero.

    ``gas_relative_u`` adds what an uncertain gas composition does to the flow. Refused, never
    extrapolated: see ``problems_of``. Source: the isentropic nozzle (ISO 9300 form), JCGM 100.
    """
    inputs = _inputs(opening, conditions, gas, state)
    problems = problems_of(opening, conditions, gas)
    if problems:
        finite = {name: finite_or_none(value) for name, value in inputs.items()}
        return refused(unit="m3/s", method=METHOD, version=VERSION, reasons=problems, inputs=finite)

    flow = _flow_model(conditions.downstream_pa, gas, state)
    quantities = (
        opening.diameter_m,
        opening.discharge_coefficient,
        conditions.upstream_pa,
        conditions.temperature_k,
    )
    spread = uncertainty.propagate(flow, quantities)
    model_error = gas.model_error_per_pa * conditions.upstream_pa.value
    parts = (spread.u, spread.value * model_error, spread.value * gas_relative_u)
    u = uncertainty.combine(parts)
    bounds = uncertainty.interval(spread.value, u, floor=0.0)
    ratio = conditions.downstream_pa / conditions.upstream_pa.value
    inputs["regime"] = "choked" if ratio <= critical_pressure_ratio(gas.k) else "subsonic"
    return Estimate(
        value=spread.value,
        u=u,
        low=bounds.low,
        high=bounds.high,
        unit="m3/s",
        method=METHOD,
        method_version=VERSION,
        status=Status.ESTIMATED,
        reasons=_remarks(opening, gas, model_error),
        inputs=inputs,
    )
