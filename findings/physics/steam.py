"""Loss of dry saturated steam through an opening by Napier's formula."""

import math
from dataclasses import replace

from findings.physics import uncertainty
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.gases import MOLAR_GAS_CONSTANT_J_PER_MOL_K
from findings.physics.input_check import number_problems
from findings.physics.leak_flow import LARGEST_DIAMETER_M, Opening
from findings.physics.orifice import circle_area_m2
from findings.physics.quantities import convert
from findings.physics.reference_states import DEFAULT_STATE
from findings.physics.uncertainty import Uncertain

METHOD = "napier"
VERSION = "1"
NAPIER_LB_PER_H_PER_IN2_PSIA = 51.43
NAPIER_KG_PER_S_PER_M2_PA = convert(NAPIER_LB_PER_H_PER_IN2_PSIA, "lb/h", "kg/s") / (
    convert(1.0, "in2", "m2") * convert(1.0, "psi", "Pa")
)
"""About 1.45678e-3; choked flow of saturated steam per area and absolute pressure (API 520 part 1)."""
CHOKED_RATIO = 0.58
HIGH_PRESSURE_PA = 10.339e6
HIGHEST_PRESSURE_PA = 22.06e6
MODEL_RELATIVE_U = 0.02
WATER_MOLAR_MASS_KG_PER_MOL = 0.01801528
"""From the IUPAC atomic weights."""
BOOKED_DENSITY_KG_PER_M3 = (
    WATER_MOLAR_MASS_KG_PER_MOL
    * DEFAULT_STATE.pressure_pa
    / (MOLAR_GAS_CONSTANT_J_PER_MOL_K * DEFAULT_STATE.temperature_k)
)
"""Water as an ideal vapour at 1 bar, 20 °C, where real water is liquid: for the books only."""


def high_pressure_factor(upstream_pa: float) -> float:
    """Return API 520's correction above 10.339 MPa; pressure absolute in Pa, valid to 22.06 MPa."""
    if upstream_pa <= HIGH_PRESSURE_PA:
        return 1.0
    kilopascal = upstream_pa / 1000.0
    return (0.02764 * kilopascal - 1000.0) / (0.03324 * kilopascal - 1061.0)


def napier_mass_flow_kg_per_s(
    area_m2: float, upstream_pa: float, *, discharge_coefficient: float = 1.0
) -> float:
    """Return the mass flow in kg/s of dry saturated steam; pressure absolute in Pa.

    Valid with the downstream pressure below 0.58 of the upstream one. Within -4 % at 2 bar and +3 % at
    21 bar of the homogeneous equilibrium flow. Condensate in the hole lowers the loss: an upper bound.
    """
    factor = NAPIER_KG_PER_S_PER_M2_PA * high_pressure_factor(upstream_pa)
    return discharge_coefficient * area_m2 * upstream_pa * factor


def _problems(opening: Opening, upstream_pa: Uncertain, downstream_pa: float) -> list[Reason]:
    """Return why no steam loss follows."""
    quantities = (opening.diameter_m, upstream_pa, opening.discharge_coefficient)
    problems = list(number_problems(quantities, (downstream_pa,)))
    if problems:
        return problems
    if not 0.0 < opening.diameter_m.value <= LARGEST_DIAMETER_M * (1.0 + 1e-9):
        text = "The hole must be wider than 0 and not wider than 25.4 mm."
        problems.append(Reason("diameter_out_of_range", text))
    if not 0.0 <= downstream_pa < CHOKED_RATIO * upstream_pa.value:
        text = "Napier's formula needs a pressure behind the hole below 0.58 of that before it."
        problems.append(Reason("steam_not_choked", text))
    if upstream_pa.value > HIGHEST_PRESSURE_PA:
        problems.append(Reason("pressure_out_of_range", "The formula ends at 22.06 MPa."))
    return problems


def steam_flow(opening: Opening, upstream_pa: Uncertain, downstream_pa: float) -> Estimate:
    """Estimate the steam loss of a hole in kg/s with a 95 % interval; pressures absolute in Pa."""
    coefficient = opening.discharge_coefficient
    inputs = {
        "diameter_m": opening.diameter_m.value,
        "edge": opening.edge.value,
        "discharge_coefficient": coefficient.value,
        "upstream_absolute_pa": upstream_pa.value,
        "downstream_absolute_pa": downstream_pa,
    }
    problems = _problems(opening, upstream_pa, downstream_pa)
    if problems:
        kept = {k: None if isinstance(v, float) and not math.isfinite(v) else v for k, v in inputs.items()}
        return refused(unit="kg/s", method=METHOD, version=VERSION, reasons=tuple(problems), inputs=kept)
    spread = uncertainty.propagate(
        lambda d, cd, p: napier_mass_flow_kg_per_s(circle_area_m2(d), p, discharge_coefficient=cd),
        [opening.diameter_m, coefficient, upstream_pa],
    )
    u = uncertainty.combine((spread.u, MODEL_RELATIVE_U * spread.value))
    bounds = uncertainty.interval(spread.value, u, floor=0.0)
    text = "Taken as dry saturated steam; condensate in the hole lowers the loss, so this is an upper bound."
    return Estimate(
        value=spread.value,
        u=u,
        low=bounds.low,
        high=bounds.high,
        unit="kg/s",
        method=METHOD,
        method_version=VERSION,
        status=Status.ESTIMATED,
        reasons=(Reason("dry_steam_upper_bound", text),),
        inputs=inputs,
    )


def booked_as_vapour(estimate: Estimate) -> Estimate:
    """Return a steam loss in kg/s as m3/s of ideal vapour at 1 bar 20 °C, so that it counts with the gases.

    Volume times BOOKED_DENSITY_KG_PER_M3 gives the mass back. The mass flow stands in the inputs. A
    refusal stays one. Raises ValueError for an estimate of another unit.
    """
    if estimate.unit != "kg/s":
        msg = "only a mass flow is booked as vapour"
        raise ValueError(msg)
    if estimate.value is None or estimate.u is None or estimate.low is None or estimate.high is None:
        return replace(estimate, unit="m3/s")
    text = (
        "The mass flow is the result; the volume is that of ideal vapour at 1 bar and 20 °C and serves "
        "the books only."
    )
    return replace(
        estimate,
        value=estimate.value / BOOKED_DENSITY_KG_PER_M3,
        u=estimate.u / BOOKED_DENSITY_KG_PER_M3,
        low=estimate.low / BOOKED_DENSITY_KG_PER_M3,
        high=estimate.high / BOOKED_DENSITY_KG_PER_M3,
        unit="m3/s",
        reasons=(*estimate.reasons, Reason("steam_booked_as_vapour", text)),
        inputs={
            **estimate.inputs,
            "mass_flow_kg_per_s": estimate.value,
            "mass_flow_u_kg_per_s": estimate.u,
            "mass_flow_low_kg_per_s": estimate.low,
            "mass_flow_high_kg_per_s": estimate.high,
        },
    )
