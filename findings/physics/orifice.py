"""Gas flow through an opening: the isentropic nozzle with a discharge coefficient.

m = Cd A p1 / sqrt(R T1 / M) psi(r, k), r = p2/p1, choked below r_c = (2/(k+1))^(k/(k-1)).
Valid for one dry gas in a short hole, pipe loss small, r not near 1 (below a Reynolds number of about
1e4 the coefficient drifts). Source: the ideal form of ISO 9300 and ISO 6358-1, gas-dynamics textbooks.
"""

import math

from findings.physics.gases import MOLAR_GAS_CONSTANT_J_PER_MOL_K

ISO_6358_DENSITY_KG_PER_M3 = 1.185
ISO_6358_TEMPERATURE_K = 293.15


def critical_pressure_ratio(k: float) -> float:
    """Return r_c, the ratio p2/p1 at and below which the flow is choked."""
    return float((2.0 / (k + 1.0)) ** (k / (k - 1.0)))


def choked_factor(k: float) -> float:
    """Return the dimensionless flow factor of a choked opening, 0.68473 for k = 1.4."""
    return math.sqrt(k) * float((2.0 / (k + 1.0)) ** ((k + 1.0) / (2.0 * (k - 1.0))))


def flow_factor(ratio: float, k: float) -> float:
    """Return the dimensionless flow factor psi at a pressure ratio p2/p1; 0 from ratio 1 on."""
    if ratio >= 1.0:
        return 0.0
    if ratio <= critical_pressure_ratio(k):
        return choked_factor(k)
    log = math.log(ratio)
    return math.sqrt(2.0 * k / (k - 1.0) * math.exp(2.0 / k * log) * expansion(log, k))


def expansion(log_ratio: float, k: float) -> float:
    """Return 1 - r^((k-1)/k), the part of the enthalpy that becomes speed, from ln r; exact near r = 1."""
    return -math.expm1((k - 1.0) / k * log_ratio)


def pressure_exponent(ratio: float, k: float) -> float:
    """Return d ln m / d ln p1 of an opening at a fixed downstream pressure: 1 when choked, larger below.

    Derived from the flow factor: with E = 1 - r^((k-1)/k) it is (k-1)/k (1 + E)/(2 E). Ratio below 1.
    """
    if ratio <= critical_pressure_ratio(k):
        return 1.0
    part = expansion(math.log(ratio), k)
    return (k - 1.0) / k * (1.0 + part) / (2.0 * part)


def circle_area_m2(diameter_m: float) -> float:
    """Return the area in m2 of a round hole."""
    return math.pi / 4.0 * diameter_m * diameter_m


def mass_flow_kg_per_s(
    *,
    area_m2: float,
    upstream_pa: float,
    downstream_pa: float,
    temperature_k: float,
    molar_mass_kg_per_mol: float,
    k: float,
    discharge_coefficient: float = 1.0,
    compressibility: float = 1.0,
) -> float:
    """Return the mass flow in kg/s; pressures absolute, temperature and pressure upstream at rest."""
    specific = compressibility * MOLAR_GAS_CONSTANT_J_PER_MOL_K * temperature_k / molar_mass_kg_per_mol
    factor = flow_factor(downstream_pa / upstream_pa, k)
    return discharge_coefficient * area_m2 * upstream_pa / math.sqrt(specific) * factor


def stagnation_state(
    pressure_pa: float, temperature_k: float, speed_m_per_s: float, *, cp: float, k: float
) -> tuple[float, float]:
    """Return pressure in Pa and temperature in K of a moving gas brought to rest; cp in J/(kg K)."""
    at_rest_k = temperature_k + speed_m_per_s**2 / (2.0 * cp)
    return pressure_pa * float((at_rest_k / temperature_k) ** (k / (k - 1.0))), at_rest_k


def iso_6358_mass_flow_kg_per_s(
    *,
    conductance_m3_per_s_pa: float,
    critical_ratio: float,
    upstream_pa: float,
    downstream_pa: float,
    temperature_k: float,
) -> float:
    """Return the air mass flow in kg/s of a component of known C and b; pressures absolute.

    Source: ISO 6358-1, reference 1.185 kg/m3 and 293.15 K. The laminar end, ratio above about 0.995,
    isn't modelled.
    """
    ratio = downstream_pa / upstream_pa
    choked = conductance_m3_per_s_pa * ISO_6358_DENSITY_KG_PER_M3 * upstream_pa
    choked *= math.sqrt(ISO_6358_TEMPERATURE_K / temperature_k)
    if ratio <= critical_ratio:
        return choked
    if ratio >= 1.0:
        return 0.0
    return choked * math.sqrt(1.0 - ((ratio - critical_ratio) / (1.0 - critical_ratio)) ** 2)


def valve_flow_coefficient(
    flow_m3_per_s: float, temperature_k: float, outlet_pa: float, drop_pa: float
) -> float:
    """Return the valve coefficient Cv of an air flow at standard conditions, outlet pressure absolute.

    Cv = (Q/22.7) sqrt(T/(p2 dp)) with Q in scfm, T in degrees Rankine, pressures in psi, subsonic flow.
    Source: Esposito, Fluid Power with Applications, chapter 13.
    """
    cfm, psi = 0.3048**3 / 60.0, 6894.757293168362
    root = math.sqrt(temperature_k * 1.8 / (outlet_pa / psi * drop_pa / psi))
    return flow_m3_per_s / cfm / 22.7 * root


def choked_flow_at_other_pressure(flow: float, *, upstream_pa: float, other_upstream_pa: float) -> float:
    """Return a choked leak's flow after its supply pressure changed; pressures absolute, any flow unit."""
    return flow * other_upstream_pa / upstream_pa
