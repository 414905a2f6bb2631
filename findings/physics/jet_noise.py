"""The noise of a free air jet out of a round hole, as a narrow-band detector hears it a metre away.

Source regimes and spectrum of IEC 60534-8-3 (pressure recovery factor 1) as coded in the open ``fluids``
library, with free spherical spreading in place of the pipe wall. It gives the prior of the level model its
slopes and says where a level stops growing; 5 dB and more of error in the absolute level are usual
(judgement).
"""

import math
from dataclasses import dataclass

from findings.physics.gases import GASES
from findings.physics.orifice import circle_area_m2, mass_flow_kg_per_s
from findings.physics.reference_states import DEFAULT_STATE, volume_flow_m3_per_s

DISCHARGE_COEFFICIENT = 0.8
HIGHEST_RATIO = 22.0
DEEPEST_MACH = math.sqrt(2.0)
THIRD_OCTAVE = 2.0 ** (1.0 / 6.0) - 2.0 ** (-1.0 / 6.0)
"""Width of a third-octave band as a part of its mid frequency: 0.2316."""
SATURATED_GAIN_DB = 2.0
"""Twice the hole adds less than this: the level no longer tells the size (judgement)."""
DETECTOR_FREQUENCY_HZ = 40_000.0
DETECTOR_BANDWIDTH_HZ = 4_000.0


@dataclass(frozen=True)
class Jet:
    """Air out of a round hole: diameter in m, absolute pressure ratio above 1, room pressure, temperature.

    ``efficiency_exponent`` (An) and ``strouhal`` are the two constants of the standard that are least sure:
    -4 +/- 0.5 and 0.1 to 0.3.
    """

    diameter_m: float
    pressure_ratio: float
    downstream_pa: float = 101325.0
    temperature_k: float = 293.15
    efficiency_exponent: float = -4.0
    strouhal: float = 0.2

    @property
    def mass_flow_kg_per_s(self) -> float:
        """Return the mass flow with discharge coefficient 0.8."""
        air = GASES["air"]
        return mass_flow_kg_per_s(
            area_m2=circle_area_m2(self.diameter_m),
            upstream_pa=self.pressure_ratio * self.downstream_pa,
            downstream_pa=self.downstream_pa,
            temperature_k=self.temperature_k,
            molar_mass_kg_per_mol=air.molar_mass_kg_per_mol,
            k=air.k,
            discharge_coefficient=DISCHARGE_COEFFICIENT,
        )

    @property
    def flow_m3_per_s(self) -> float:
        """Return the volume flow at 1 bar 20 °C."""
        return volume_flow_m3_per_s(self.mass_flow_kg_per_s, GASES["air"], DEFAULT_STATE)

    @property
    def mach(self) -> float:
        """Return the Mach number of the fully expanded jet, its pressure ratio taken as 22 at most."""
        k = GASES["air"].k
        ratio = min(self.pressure_ratio, HIGHEST_RATIO)
        return math.sqrt(2.0 / (k - 1.0) * math.expm1((k - 1.0) / k * math.log(ratio)))


def _source(jet: Jet) -> tuple[float, float]:
    """Return the acoustic power in W and the peak frequency in Hz of a jet."""
    air, mach = GASES["air"], jet.mach
    elastic = air.k * air.specific_constant_j_per_kg_k * jet.temperature_k
    critical = ((air.k + 1.0) / 2.0) ** (air.k / (air.k - 1.0))
    efficiency = 10.0**jet.efficiency_exponent
    jet_diameter = jet.diameter_m * math.sqrt(DISCHARGE_COEFFICIENT)
    speed = math.sqrt(2.0 * elastic / (air.k + 1.0))
    frequency = jet.strouhal * mach * speed / jet_diameter
    if jet.pressure_ratio < critical:
        speed = mach * math.sqrt(elastic * jet.pressure_ratio ** (-(air.k - 1.0) / air.k))
        efficiency *= mach**3
        frequency = jet.strouhal * speed / jet_diameter
    elif mach <= DEEPEST_MACH:
        efficiency *= mach**6.6
    else:
        efficiency *= 0.5 * mach**2 * DEEPEST_MACH**6.6
        frequency = 1.4 * jet.strouhal * speed / (jet_diameter * math.sqrt(mach**2 - 1.0))
    return efficiency * jet.mass_flow_kg_per_s * speed**2 / 2.0, frequency


def sound_power_w(jet: Jet) -> float:
    """Return the whole acoustic power of a jet in W."""
    return _source(jet)[0]


def peak_frequency_hz(jet: Jet) -> float:
    """Return the frequency in Hz round which the jet's noise lies; a small hole hisses higher."""
    return _source(jet)[1]


def third_octave_share_db(frequency_hz: float, peak_hz: float) -> float:
    """Return how far the third-octave band at a frequency lies below the whole power, dB."""
    above = 1.0 + (frequency_hz / (2.0 * peak_hz)) ** 2.5
    below = 1.0 + (peak_hz / (2.0 * frequency_hz)) ** 1.7
    return -8.0 - 10.0 * math.log10(above * below)


def level_at_1_m_db(
    jet: Jet, frequency_hz: float = DETECTOR_FREQUENCY_HZ, bandwidth_hz: float = DETECTOR_BANDWIDTH_HZ
) -> float:
    """Return the free-field level in dB re 20 µPa, 1 m away, in a band round a frequency.

    Valid for bands narrow against their mid frequency; no directivity, no absorption over that metre.
    """
    power, peak = _source(jet)
    spread = 10.0 * math.log10(4.0 * math.pi)
    band = 10.0 * math.log10(bandwidth_hz / (THIRD_OCTAVE * frequency_hz))
    whole = 10.0 * math.log10(power / 1e-12)
    return whole - spread + third_octave_share_db(frequency_hz, peak) + band


def is_saturated(jet: Jet, frequency_hz: float = DETECTOR_FREQUENCY_HZ) -> bool:
    """Tell whether a hole twice as wide would sound less than 2 dB louder in a narrow band.

    From there on the level bounds the flow from below only: it peaks, then falls.
    """
    wide = Jet(2.0 * jet.diameter_m, jet.pressure_ratio, jet.downstream_pa, jet.temperature_k)
    narrow = Jet(jet.diameter_m, jet.pressure_ratio, jet.downstream_pa, jet.temperature_k)
    gain = level_at_1_m_db(wide, frequency_hz) - level_at_1_m_db(narrow, frequency_hz)
    return gain < SATURATED_GAIN_DB


def hole_of(flow_m3_per_s: float, pressure_ratio: float) -> Jet:
    """Return the round hole that lets a flow at 1 bar 20 °C into the room at a pressure ratio above 1."""
    unit = Jet(1e-3, pressure_ratio)
    return Jet(1e-3 * math.sqrt(flow_m3_per_s / unit.flow_m3_per_s), pressure_ratio)
