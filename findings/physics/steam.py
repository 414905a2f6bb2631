"""Loss of dry saturated steam through an opening by Napier's formula."""

from findings.physics.quantities import convert

NAPIER_LB_PER_H_PER_IN2_PSIA = 51.43
NAPIER_KG_PER_S_PER_M2_PA = convert(NAPIER_LB_PER_H_PER_IN2_PSIA, "lb/h", "kg/s") / (
    convert(1.0, "in2", "m2") * convert(1.0, "psi", "Pa")
)
"""About 1.45678e-3; choked flow of saturated steam per area and absolute pressure (API 520 part 1)."""
CHOKED_RATIO = 0.58
HIGH_PRESSURE_PA = 10.339e6


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

    Valid with the downstream pressure below 0.58 of the upstream one. Within -4 % at 2 bar and +3 % at 21 bar of the homogeneous equilibrium flow. Condensate in the hole lowers
    the loss: an upper bound.
    """
    factor = NAPIER_KG_PER_S_PER_M2_PA * high_pressure_factor(upstream_pa)
    return discharge_coefficient * area_m2 * upstream_pa * factor
