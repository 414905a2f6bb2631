"""The flow of one leak through a hole of known size: value, interval and reasons, or a refusal."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Any

from findings.physics import uncertainty
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.gases import Gas
from findings.physics.input_check import finite_or_none, number_problems
from findings.physics.orifice import (
    circle_area_m2,
    critical_pressure_ratio,
    mass_flow_kg_per_s,
    pressure_exponent,
)
from findings.physics.reference_states import DEFAULT_STATE, ReferenceState, volume_flow_m3_per_s
from findings.physics.uncertainty import Uncertain

METHOD = "orifice"
VERSION = "2"
"""2: sensitivities in closed form, and the error of the ideal gas grows in the cold."""
TEMPERATURE_LIMITS_K = (200.0, 600.0)
LARGEST_DIAMETER_M = 0.0254
"""One inch, the largest hole of the published discharge tables; a larger one is a break, not a leak."""
HIGHEST_PRESSURE_PA = 4e7
NOTABLE_MODEL_ERROR = 0.02
NOTABLE_PRESSURE_PART = 0.25
"""First order no longer describes a flow that the pressure alone makes a quarter unsure (judgement)."""


WORDS: Mapping[str, str] = MappingProxyType(
    {
        "pressure_below_vacuum": "An absolute pressure is never below zero.",
        "no_pressure_difference": "The pressure before the hole isn't above the pressure behind it.",
        "pressure_out_of_range": "The formula isn't used above 400 bar.",
        "may_be_liquid": (
            "At this pressure and temperature the content is liquid; the gas formula doesn't hold."
        ),
        "diameter_out_of_range": "The hole must be wider than 0 and not wider than 25.4 mm.",
        "discharge_coefficient_out_of_range": "A discharge coefficient lies above 0 and not above 1.",
        "temperature_out_of_range": "The gas temperature must lie between 200 K and 600 K.",
        "edge_unknown": (
            "The hole's edge is unknown: coefficient 0.80, standard uncertainty 0.12 (judgement)."
        ),
        "sharp_edge_convention": (
            "Sharp edge taken as 0.61; at high pressure ratios published values reach 0.84."
        ),
        "ideal_gas_error": "At this pressure the gas departs from the ideal one by more than 2 %.",
        "pressure_difference_unsure": (
            "The pressure difference is hardly larger than its uncertainty; read it more exactly."
        ),
    }
)
"""What each reason's code says, where it says the same of every leak."""


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


def _pressure_problems(conditions: Conditions, gas: Gas) -> list[str]:
    """Return the codes of why no flow follows from these pressures."""
    upstream, downstream = conditions.upstream_pa.value, conditions.downstream_pa
    problems = []
    if downstream < 0.0 or upstream <= 0.0:
        problems.append("pressure_below_vacuum")
    elif upstream <= downstream:
        problems.append("no_pressure_difference")
    if upstream > HIGHEST_PRESSURE_PA:
        problems.append("pressure_out_of_range")
    if gas.saturation and upstream > gas.saturation.pressure_pa(conditions.temperature_k.value):
        problems.append("may_be_liquid")
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
        problems.append("diameter_out_of_range")
    if not 0.0 < coefficient.value <= 1.0:
        problems.append("discharge_coefficient_out_of_range")
    lowest, highest = TEMPERATURE_LIMITS_K
    if lowest <= conditions.temperature_k.value <= highest:
        problems.extend(_pressure_problems(conditions, gas))
    else:
        problems.append("temperature_out_of_range")
    return tuple(Reason(code, WORDS[code]) for code in problems)


def _remarks(opening: Opening, gas: Gas, model_error: float, pressure_part: float) -> tuple[Reason, ...]:
    """Return what a reader of the number should know."""
    words = dict(WORDS)
    codes = []
    if opening.own_coefficient is None and opening.edge is Edge.UNKNOWN:
        codes.append("edge_unknown")
    if opening.own_coefficient is None and opening.edge is Edge.SHARP:
        codes.append("sharp_edge_convention")
    if model_error > NOTABLE_MODEL_ERROR:
        name = gas.key.replace("_", " ")
        words["ideal_gas_error"] = (
            f"At this pressure {name} departs from the ideal gas by about {model_error:.0%}."
        )
        codes.append("ideal_gas_error")
    if pressure_part > NOTABLE_PRESSURE_PART:
        codes.append("pressure_difference_unsure")
    return tuple(Reason(code, words[code]) for code in codes)


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


def _flow_m3_per_s(opening: Opening, conditions: Conditions, gas: Gas, state: ReferenceState) -> float:
    """Return the flow in m3/s at the reference state."""
    mass = mass_flow_kg_per_s(
        area_m2=circle_area_m2(opening.diameter_m.value),
        upstream_pa=conditions.upstream_pa.value,
        downstream_pa=conditions.downstream_pa,
        temperature_k=conditions.temperature_k.value,
        molar_mass_kg_per_mol=gas.molar_mass_kg_per_mol,
        k=gas.k,
        discharge_coefficient=opening.discharge_coefficient.value,
    )
    return volume_flow_m3_per_s(mass, gas, state)


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
    extrapolated: see ``problems_of``. Sensitivities in closed form. Source: the isentropic nozzle (ISO 9300
    form), JCGM 100, 5.1.6.
    """
    inputs = _inputs(opening, conditions, gas, state)
    problems = problems_of(opening, conditions, gas)
    if problems:
        finite = {name: finite_or_none(value) for name, value in inputs.items()}
        return refused(unit="m3/s", method=METHOD, version=VERSION, reasons=problems, inputs=finite)

    flow = _flow_m3_per_s(opening, conditions, gas, state)
    ratio = conditions.downstream_pa / conditions.upstream_pa.value
    exponent = pressure_exponent(ratio, gas.k)
    model_error = gas.model_error(conditions.upstream_pa.value, conditions.temperature_k.value)
    pressure_part = exponent * conditions.upstream_pa.relative
    u = flow * uncertainty.relative_of_powers(
        [
            (2.0, opening.diameter_m.relative),
            (1.0, opening.discharge_coefficient.relative),
            (1.0, pressure_part),
            (-0.5, conditions.temperature_k.relative),
            (1.0, model_error),
            (1.0, gas_relative_u),
        ]
    )
    bounds = uncertainty.interval(flow, u, floor=0.0)
    inputs["regime"] = "choked" if ratio <= critical_pressure_ratio(gas.k) else "subsonic"
    return Estimate(
        value=flow,
        u=u,
        low=bounds.low,
        high=bounds.high,
        unit="m3/s",
        method=METHOD,
        method_version=VERSION,
        status=Status.ESTIMATED,
        reasons=_remarks(opening, gas, model_error, pressure_part),
        inputs=inputs,
    )
