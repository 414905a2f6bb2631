"""Air flow through a component whose sonic conductance C and critical ratio b are known (ISO 6358-1)."""

import math

from findings.physics.estimate import Estimate, Reason, Status
from findings.physics.gases import GASES
from findings.physics.input_check import NOT_FINITE
from findings.physics.leak_flow import HIGHEST_PRESSURE_PA, TEMPERATURE_LIMITS_K, WORDS
from findings.physics.measured import measured_flow, positive
from findings.physics.orifice import iso_6358_mass_flow_kg_per_s
from findings.physics.reference_states import DEFAULT_STATE, ReferenceState, volume_flow_m3_per_s
from findings.physics.uncertainty import Uncertain

LAMINAR_RATIO = 0.995
"""From about here on the flow turns laminar and the ellipse no longer holds."""
LARGEST_CONDUCTANCE_M3_PER_S_PA = 1e-5
"""About 50 cm² of effective area: beyond any fitting."""
USUAL_RATIOS = (0.1, 0.55)


def component_flow(
    conductance_m3_per_s_pa: Uncertain,
    critical_ratio: Uncertain,
    *,
    upstream_pa: Uncertain,
    downstream_pa: float,
    temperature_k: Uncertain,
    state: ReferenceState = DEFAULT_STATE,
) -> Estimate:
    """Estimate the air flow of a component in m3/s; pressures absolute.

    C in m3/(s Pa) at 1.185 kg/m3 and 293.15 K. For air, as the standard is. Refused at a pressure ratio above
    0.995, where the flow turns laminar. Source: ISO 6358-1.
    """
    conductance, b, upstream = conductance_m3_per_s_pa.value, critical_ratio.value, upstream_pa.value
    problems = _problems(conductance, b) + _pressure_problems(upstream, downstream_pa, temperature_k.value)
    reasons = []
    if not USUAL_RATIOS[0] <= b <= USUAL_RATIOS[1]:
        text = "Components have critical ratios from about 0.2 to 0.5 (common practice); check this one."
        reasons.append(Reason("critical_ratio_unusual", text))

    def flow(c: float, ratio: float, p: float, temp: float) -> float:
        mass = iso_6358_mass_flow_kg_per_s(
            conductance_m3_per_s_pa=c,
            critical_ratio=ratio,
            upstream_pa=p,
            downstream_pa=downstream_pa,
            temperature_k=temp,
        )
        return volume_flow_m3_per_s(mass, GASES["air"], state)

    return measured_flow(
        flow,
        [conductance_m3_per_s_pa, critical_ratio, upstream_pa, temperature_k],
        method="iso_6358",
        status=Status.ESTIMATED,
        reasons=reasons,
        problems=problems,
        inputs={
            "conductance_m3_per_s_pa": conductance,
            "critical_ratio": b,
            "upstream_absolute_pa": upstream,
            "downstream_absolute_pa": downstream_pa,
            "temperature_k": temperature_k.value,
            "regime": "choked" if not problems and downstream_pa / upstream <= b else "subsonic",
            "reference_state": state.key,
        },
    )


def _problems(conductance: float, critical_ratio: float) -> list[Reason]:
    """Return why this isn't a component."""
    problems = positive(conductance=conductance)
    if conductance > LARGEST_CONDUCTANCE_M3_PER_S_PA:
        text = "A conductance above 1e-5 m3/(s Pa) isn't a fitting's; check its unit: 1 dm3/(s bar) is 1e-8."
        problems.append(Reason("conductance_out_of_range", text))
    if not 0.0 <= critical_ratio < 1.0:
        problems.append(Reason("critical_ratio_out_of_range", "A critical ratio lies from 0 to below 1."))
    return problems


def _pressure_problems(upstream_pa: float, downstream_pa: float, temperature_k: float) -> list[Reason]:
    """Return why no flow follows from these conditions."""
    if not math.isfinite(downstream_pa):
        return [NOT_FINITE]
    problems = []
    lowest, highest = TEMPERATURE_LIMITS_K
    if not lowest <= temperature_k <= highest:
        problems.append(_reason("temperature_out_of_range"))
    if downstream_pa < 0.0 or not upstream_pa > 0.0:
        problems.append(_reason("pressure_below_vacuum"))
    elif not upstream_pa > downstream_pa:
        problems.append(_reason("no_pressure_difference"))
    elif downstream_pa / upstream_pa > LAMINAR_RATIO:
        text = "The pressures are so close that the flow is laminar; C and b don't describe it."
        problems.append(Reason("laminar", text))
    if upstream_pa > HIGHEST_PRESSURE_PA:
        problems.append(_reason("pressure_out_of_range"))
    return problems


def _reason(code: str) -> Reason:
    """Return a reason that the hole of known size has too."""
    return Reason(code, WORDS[code])
