"""Leak flow caught under water: a cylinder upside down in a bath, and bubbles that only tell a class."""

import math
from collections.abc import Sequence

from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.input_check import NEGATIVE, number_problems
from findings.physics.measured import UNIT, VERSION, mean_of_runs, measured_flow, positive
from findings.physics.reference_states import DEFAULT_STATE, ReferenceState
from findings.physics.uncertainty import COVERAGE_95, Uncertain, relative_of_powers

GRAVITY_M_PER_S2 = 9.80665
WATER_KG_PER_M3 = 998.2
"""At 20 °C; from 5 °C to 40 °C it changes by less than 0.8 %, of a head that is a few per cent itself."""
WATER_TEMPERATURES_K = (273.15, 333.15)
DEEPEST_M = 5.0
LEVEL_WITH_THE_BATH = Uncertain(0.0)
SOLUBLE = frozenset({"carbon_dioxide"})
BUBBLE_WIDTH_RELATIVE_U = 0.20
"""Nobody reads a bubble's width better than to a fifth (judgement); the flow goes with its cube."""
FASTEST_BUBBLES_PER_S = 10.0
WIDEST_BUBBLE_M = 0.02
MOST_BUBBLES = 1_000_000


def vapour_pressure_pa(temperature_k: float) -> float:
    """Return the pressure of saturated water vapour in Pa from 0 °C to 60 °C.

    Source: ISO 9613-1:1993, annex B.
    """
    return 101325.0 * float(10.0 ** (-6.8346 * (273.16 / temperature_k) ** 1.261 + 4.6151))


def dry_pressure_pa(wet_pa: float, temperature_k: float) -> float:
    """Return the pressure in Pa of the dry gas over water of a temperature in K."""
    return wet_pa - vapour_pressure_pa(temperature_k)


def cylinder_flow(
    volume_m3: Uncertain,
    times_s: Sequence[float],
    time_u_s: float,
    *,
    atmosphere_pa: Uncertain,
    temperature_k: Uncertain,
    level_m: Uncertain = LEVEL_WITH_THE_BATH,
    gas: str = "air",
    state: ReferenceState = DEFAULT_STATE,
) -> Estimate:
    """Return the flow that displaced the water of a cylinder: (V/t)(p_dry/p_ref)(T_ref/T).

    ``temperature_k`` is that of bath and gas. ``level_m`` is how far the water inside stood above the bath
    when the volume was read, below zero where it stood below. Refused outside 0 °C to 60 °C, for short or
    scattered runs and a level that can't be.
    """
    mean, problems, reasons = mean_of_runs(times_s, "cylinder")
    column = WATER_KG_PER_M3 * GRAVITY_M_PER_S2
    wet = Uncertain(
        atmosphere_pa.value - column * level_m.value, math.hypot(atmosphere_pa.u, column * level_m.u)
    )
    problems += positive(volume=volume_m3.value, atmosphere=atmosphere_pa.value)
    problems += _bath_problems(wet.value, temperature_k.value, level_m.value)
    if min(atmosphere_pa.u, level_m.u) < 0.0:
        problems.append(NEGATIVE)
    if gas in SOLUBLE:
        text = "Water dissolves some of this gas: the true flow is larger. Use a bag."
        reasons.append(Reason("gas_dissolves", text))
    return measured_flow(
        lambda v, t, p, temp: (
            v / t * dry_pressure_pa(p, temp) / state.pressure_pa * state.temperature_k / temp
        ),
        [volume_m3, Uncertain(mean, time_u_s), wet, temperature_k],
        method="cylinder_over_water",
        reasons=reasons,
        problems=problems,
        inputs={
            "volume_m3": volume_m3.value,
            "time_s": mean,
            "runs": len(times_s),
            "atmosphere_absolute_pa": atmosphere_pa.value,
            "temperature_k": temperature_k.value,
            "level_m": level_m.value,
            "gas": gas,
            "reference_state": state.key,
        },
    )


def _bath_problems(wet_pa: float, temperature_k: float, level_m: float) -> list[Reason]:
    """Return why no gas can have stood in this cylinder."""
    coldest, hottest = WATER_TEMPERATURES_K
    if not coldest <= temperature_k <= hottest:
        return [Reason("water_temperature_out_of_range", "The bath must be between 0 °C and 60 °C.")]
    if not abs(level_m) <= DEEPEST_M:
        text = "The water inside stands no more than 5 m above or below the bath."
        return [Reason("level_out_of_range", text)]
    if not dry_pressure_pa(wet_pa, temperature_k) > 0.0:
        text = "Vapour and water column together outweigh the atmosphere; check level and pressure."
        return [Reason("no_gas_pressure", text)]
    return []


def bubble_flow(
    bubbles: int,
    duration_s: Uncertain,
    bubble_diameter_m: Uncertain,
    *,
    atmosphere_pa: float,
    temperature_k: float,
    state: ReferenceState = DEFAULT_STATE,
) -> Estimate:
    """Return the class of a leak from its bubbles, N (pi/6) d³/t: one digit, an interval of about a decade.

    The width counts as no better known than to 20 %, so the flow as no better than to 60 %, however small
    the stated uncertainties. The interval is that of a lognormal. Refused above ten bubbles a second and
    for bubbles above 20 mm.
    """
    inputs = {
        "bubbles": bubbles,
        "duration_s": duration_s.value,
        "bubble_diameter_m": bubble_diameter_m.value,
        "atmosphere_absolute_pa": atmosphere_pa,
        "temperature_k": temperature_k,
        "reference_state": state.key,
    }
    problems = _bubble_problems(bubbles, duration_s, bubble_diameter_m, atmosphere_pa, temperature_k)
    if problems:
        kept = {k: None if isinstance(v, float) and not math.isfinite(v) else v for k, v in inputs.items()}
        return refused(unit=UNIT, method="bubbles", version=VERSION, reasons=tuple(problems), inputs=kept)
    volume = bubbles * math.pi / 6.0 * bubble_diameter_m.value**3
    at_state = atmosphere_pa / state.pressure_pa * state.temperature_k / temperature_k
    flow = volume / duration_s.value * at_state
    width = max(bubble_diameter_m.relative, BUBBLE_WIDTH_RELATIVE_U)
    relative = relative_of_powers([(3.0, width), (1.0, duration_s.relative), (1.0, 1.0 / math.sqrt(bubbles))])
    spread = math.exp(COVERAGE_95 * math.sqrt(math.log1p(relative * relative)))
    text = (
        "A bubble count tells the class of a leak, not its flow: a fifth in the bubbles' width is three "
        "fifths in the flow. Use a cylinder or a bag for a figure."
    )
    return Estimate(
        value=float(f"{flow:.0e}"),
        u=relative * flow,
        low=flow / spread,
        high=flow * spread,
        unit=UNIT,
        method="bubbles",
        method_version=VERSION,
        status=Status.ESTIMATED,
        reasons=(Reason("class_only", text),),
        inputs=inputs,
    )


def _bubble_problems(
    bubbles: int, duration_s: Uncertain, width_m: Uncertain, atmosphere_pa: float, temperature_k: float
) -> list[Reason]:
    """Return why no class follows."""
    problems = list(number_problems((duration_s, width_m), (atmosphere_pa, temperature_k)))
    if problems:
        return problems
    problems = positive(duration=duration_s.value, atmosphere=atmosphere_pa, temperature=temperature_k)
    if not 0 < bubbles <= MOST_BUBBLES:
        problems.append(Reason("bubbles_out_of_range", "Count between 1 and 1 000 000 bubbles."))
    if not 0.0 < width_m.value <= WIDEST_BUBBLE_M:
        text = "A bubble is wider than 0 and not wider than 20 mm; larger ones break up."
        problems.append(Reason("bubble_out_of_range", text))
    if not problems and bubbles > FASTEST_BUBBLES_PER_S * duration_s.value:
        text = "More than ten bubbles a second can't be counted; use a cylinder or a bag."
        problems.append(Reason("bubbles_too_fast", text))
    return problems
