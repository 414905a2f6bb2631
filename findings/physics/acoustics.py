"""Airborne levels: what the air swallows, what the background adds, what distance takes away.

Levels in dB, a rise of 20 dB is ten times the sound pressure. All formulas are for a small source in a free
path; a hard wall beside the leak adds up to 3 to 6 dB, which is recorded, not corrected. They hold indoors
too: at 40 kHz the air alone keeps the reverberant field below the direct one for several metres.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Any, NamedTuple

from findings.physics import uncertainty
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.input_check import finite_or_none, number_problems
from findings.physics.uncertainty import Uncertain

VERSION = "1"
REFERENCE_PRESSURE_PA = 101325.0
REFERENCE_TEMPERATURE_K = 293.15
TRIPLE_POINT_K = 273.16
DB_PER_NEPER = 20.0 / math.log(10.0)
LEVEL_LIMITS_DB = (-40.0, 200.0)
REFERENCE_DISTANCE_M = 1.0
NEAREST_M = 0.1
DISTANCE_RATIOS = (0.1, 20.0)
LARGEST_ABSORPTION_DB = 15.0
ASSUMED_WEATHER_RELATIVE_U = 0.3


@dataclass(frozen=True)
class Air:
    """The room's air: temperature in K, relative humidity 0 to 1, absolute pressure in Pa.

    ``measured`` False says that the usual 20 °C, 50 %, 1 atm stand in for what nobody measured.
    """

    temperature_k: float = REFERENCE_TEMPERATURE_K
    relative_humidity: float = 0.5
    pressure_pa: float = REFERENCE_PRESSURE_PA
    measured: bool = False

    @property
    def saturation_pressure_pa(self) -> float:
        """Return the pressure of saturated water vapour."""
        return saturation_pressure_pa(self.temperature_k)

    @property
    def molar_water(self) -> float:
        """Return the share of water molecules in the air, 0 to 1."""
        return self.relative_humidity * self.saturation_pressure_pa / self.pressure_pa


def saturation_pressure_pa(temperature_k: float) -> float:
    """Return the vapour pressure of water in Pa, as ISO 9613-1 annex B takes it (over ice below 0 °C too)."""
    ratio = TRIPLE_POINT_K / temperature_k
    return REFERENCE_PRESSURE_PA * float(10.0 ** (-6.8346 * ratio**1.261 + 4.6151))


def relaxation_frequencies_hz(air: Air) -> tuple[float, float]:
    """Return the frequencies in Hz round which oxygen and nitrogen swallow most. Source: ISO 9613-1, 6.2."""
    pressure = air.pressure_pa / REFERENCE_PRESSURE_PA
    temperature = air.temperature_k / REFERENCE_TEMPERATURE_K
    water = 100.0 * air.molar_water
    oxygen = pressure * (24.0 + 4.04e4 * water * (0.02 + water) / (0.391 + water))
    decline = math.exp(-4.170 * (temperature ** (-1.0 / 3.0) - 1.0))
    nitrogen = pressure / math.sqrt(temperature) * (9.0 + 280.0 * water * decline)
    return oxygen, nitrogen


def absorption_db_per_m(frequency_hz: float, air: Air) -> float:
    """Return how many dB a pure tone loses to the air per metre. Source: ISO 9613-1:1993, 6.2.

    Never interpolate it: it isn't monotonic in temperature or humidity. A band of 4 kHz round 40 kHz may take
    the value at its middle. See ``air_absorption`` for where it holds.
    """
    pressure = air.pressure_pa / REFERENCE_PRESSURE_PA
    temperature = air.temperature_k / REFERENCE_TEMPERATURE_K
    oxygen, nitrogen = relaxation_frequencies_hz(air)
    square = frequency_hz * frequency_hz
    classical = 1.84e-11 / pressure * math.sqrt(temperature)
    vibration = 0.01275 * math.exp(-2239.1 / air.temperature_k) / (oxygen + square / oxygen)
    vibration += 0.1068 * math.exp(-3352.0 / air.temperature_k) / (nitrogen + square / nitrogen)
    return 8.686 * square * (classical + vibration / (temperature * temperature * math.sqrt(temperature)))


def _accuracy(air: Air) -> float:
    """Return the relative accuracy of the standard: 10, 20 or 50 % (its clause 7, from memory)."""
    water = 100.0 * air.molar_water
    if not 253.15 <= air.temperature_k <= 323.15 or water < 0.005:
        return 0.5
    return 0.1 if 0.05 <= water <= 5.0 else 0.2


def problems_of_air(frequency_hz: float, air: Air) -> tuple[Reason, ...]:
    """Return why the standard doesn't hold for this air and frequency; none means it does."""
    numbers = number_problems((), (frequency_hz, air.temperature_k, air.relative_humidity, air.pressure_pa))
    if numbers:
        return numbers
    problems = []
    if not 200.0 <= air.temperature_k <= 323.15:
        text = "The air must be between -73 °C and 50 °C for its absorption to be known."
        problems.append(Reason("air_temperature", text))
    if not 0.0 <= air.relative_humidity <= 1.0:
        problems.append(Reason("humidity", "The relative humidity lies between 0 and 1."))
    if not 0.0 < air.pressure_pa < 2e5:
        problems.append(
            Reason("air_pressure", "The air's pressure must lie above 0 and below 2 bar absolute.")
        )
    elif not 4e-4 <= frequency_hz / air.pressure_pa <= 10.0:
        text = "The frequency must lie between 40 Hz and 1 MHz, in proportion to the air's pressure."
        problems.append(Reason("frequency", text))
    return tuple(problems)


def air_absorption(frequency_hz: float, air: Air) -> Estimate:
    """Return the absorption in dB/m with its standard uncertainty, the accuracy class of the standard.

    Without measured weather the uncertainty is 30 % at least (judgement). Refused outside -73 to 50 °C, from
    2 bar on and outside 0.4 mHz to 10 Hz per Pa. Measured at 25 °C and 50 %: 0.7 dB/m at 30 kHz, 8 dB/m at
    200 kHz (Lawrence and Simmons 1982), where the formula gives 0.91 and 9.2.
    """
    inputs: dict[str, Any] = {
        "frequency_hz": finite_or_none(frequency_hz),
        "air_temperature_k": finite_or_none(air.temperature_k),
        "relative_humidity": finite_or_none(air.relative_humidity),
        "air_pressure_pa": finite_or_none(air.pressure_pa),
        "weather_measured": air.measured,
    }
    problems = problems_of_air(frequency_hz, air)
    if problems:
        return refused(unit="dB/m", method="iso_9613_1", version=VERSION, reasons=problems, inputs=inputs)
    accuracy = _accuracy(air)
    inputs["accuracy_class"] = accuracy
    reasons = []
    if accuracy > 0.1:
        text = f"In air as dry, damp or cold as this the standard is good to {accuracy:.0%} only."
        reasons.append(Reason("absorption_less_accurate", text))
    if not air.measured:
        text = "The air wasn't measured; 20 °C, 50 % humidity and 1 atm stand in for what is missing."
        reasons.append(Reason("weather_assumed", text))
        accuracy = max(accuracy, ASSUMED_WEATHER_RELATIVE_U)
    value = absorption_db_per_m(frequency_hz, air)
    bounds = uncertainty.interval(value, accuracy * value, floor=0.0)
    return Estimate(
        value=value,
        u=accuracy * value,
        low=bounds.low,
        high=bounds.high,
        unit="dB/m",
        method="iso_9613_1",
        method_version=VERSION,
        status=Status.ESTIMATED,
        reasons=tuple(reasons),
        inputs=inputs,
    )


class BackgroundStatus(StrEnum):
    """Say what became of the background: nothing to take off, taken off, or too loud to know."""

    NONE = "none"
    CORRECTED = "corrected"
    UPPER_BOUND = "upper_bound"


class BackgroundRule(NamedTuple):
    """Above the first difference nothing is taken off, below the second no more than at it; both in dB."""

    none_above_db: float
    cap_below_db: float


BACKGROUND_RULES: Mapping[str, BackgroundRule] = MappingProxyType(
    # ISO 3744 (from memory) and ISO 10140-4; ISO 3746, the survey grade (from memory).
    {"15/6": BackgroundRule(15.0, 6.0), "10/3": BackgroundRule(10.0, 3.0)}
)
DEFAULT_BACKGROUND_RULE = "10/3"


class Corrected(NamedTuple):
    """A level without its background, what was taken off, and how far to believe it.

    ``u_factor`` times a reading's standard uncertainty is that of this level, both readings alike.
    """

    level_db: float
    correction_db: float
    status: BackgroundStatus
    u_factor: float = 1.0


def correct_background(
    level_db: float, background_db: float, rule: str = DEFAULT_BACKGROUND_RULE
) -> Corrected:
    """Return the level of the source alone: K1 = -10 lg(1 - 10^(-dL/10)) is taken off.

    A background too near the reading leaves an upper bound, which may rank a finding but neither fail it nor
    enter a fit. Raises ValueError for a rule that isn't in BACKGROUND_RULES.
    """
    if rule not in BACKGROUND_RULES:
        msg = f"the background rules are {', '.join(BACKGROUND_RULES)}"
        raise ValueError(msg)
    none_above, cap_below = BACKGROUND_RULES[rule]
    difference = level_db - background_db
    if difference > none_above:
        return Corrected(level_db, 0.0, BackgroundStatus.NONE)
    share = 10.0 ** (-max(difference, cap_below) / 10.0)
    correction = -10.0 * math.log10(1.0 - share)
    status = BackgroundStatus.CORRECTED if difference >= cap_below else BackgroundStatus.UPPER_BOUND
    return Corrected(level_db - correction, correction, status, math.hypot(1.0, share) / (1.0 - share))


def problems_of_distance(
    distance: Uncertain, absorption_db_per_metre: float, reference_m: float = REFERENCE_DISTANCE_M
) -> tuple[Reason, ...]:
    """Return why a level heard at this distance can't be brought to the reference distance."""
    numbers = number_problems((distance,), (absorption_db_per_metre, reference_m))
    if numbers:
        return numbers
    metres, (least, most) = distance.value, DISTANCE_RATIOS
    if reference_m <= 0.0 or metres < NEAREST_M or not least <= metres / reference_m <= most:
        text = (
            f"A level can be brought to {reference_m:g} m from {max(NEAREST_M, least * reference_m):g} m to "
            f"{most * reference_m:g} m away; this one was heard at {metres:g} m."
        )
        return (Reason("distance", text),)
    if abs(absorption_db_per_metre * (metres - reference_m)) > LARGEST_ABSORPTION_DB:
        text = "Over this distance the air swallows more than 15 dB; go closer and read again."
        return (Reason("distance", text),)
    return ()


def problems_of_level(level: Uncertain) -> tuple[Reason, ...]:
    """Return why this can't be a detector's level in dB."""
    numbers = number_problems((Uncertain(0.0, level.u),), (level.value,))
    lowest, highest = LEVEL_LIMITS_DB
    if numbers or (lowest <= level.value <= highest and level.u <= highest):
        return numbers
    text = f"A detector's level lies between {lowest:.0f} and {highest:.0f} dB."
    return (Reason("level_out_of_range", text),)


def normalise_level(
    level: Uncertain,
    distance_m: Uncertain,
    absorption: Estimate,
    *,
    reference_m: float = REFERENCE_DISTANCE_M,
) -> Estimate:
    """Return the level in dB at the reference distance: L + 20 lg(r/r_ref) + alpha (r - r_ref).

    ``level`` has its background taken off. Valid from 0.1 to 20 times the reference, not nearer than 0.1 m,
    while the air takes at most 15 dB; refused outside, or where the absorption is refused.
    """
    inputs: dict[str, Any] = {
        "level_db": finite_or_none(level.value),
        "level_u_db": finite_or_none(level.u),
        "distance_m": finite_or_none(distance_m.value),
        "distance_u_m": finite_or_none(distance_m.u),
        "reference_distance_m": finite_or_none(reference_m),
        "absorption_db_per_m": absorption.value,
        **absorption.inputs,
    }
    problems = problems_of_level(level)
    if absorption.value is None or absorption.u is None:
        problems = (*problems, *absorption.reasons)
    else:
        problems = (*problems, *problems_of_distance(distance_m, absorption.value, reference_m))
    if problems or absorption.value is None or absorption.u is None:
        reasons = tuple(dict.fromkeys(problems))
        return refused(unit="dB", method="distance", version=VERSION, reasons=reasons, inputs=inputs)
    metres = distance_m.value
    farther = metres - reference_m
    value = level.value + 20.0 * math.log10(metres / reference_m) + absorption.value * farther
    parts = (level.u, DB_PER_NEPER * distance_m.u / metres, farther * absorption.u)
    u = uncertainty.combine(parts)
    bounds = uncertainty.interval(value, u)
    return Estimate(
        value=value,
        u=u,
        low=bounds.low,
        high=bounds.high,
        unit="dB",
        method="distance",
        method_version=VERSION,
        status=Status.ESTIMATED,
        reasons=absorption.reasons,
        inputs=inputs,
    )


def energetic_sum_db(levels_db: Sequence[float]) -> float:
    """Return the level of several sources together; at least one level, else ValueError."""
    loudest = max(levels_db)
    return loudest + 10.0 * math.log10(math.fsum(10.0 ** ((level - loudest) / 10.0) for level in levels_db))


def energetic_mean_db(levels_db: Sequence[float]) -> float:
    """Return the mean level of positions round one source; at least one level, else ValueError."""
    return energetic_sum_db(levels_db) - 10.0 * math.log10(len(levels_db))


def mean_db(levels_db: Sequence[float]) -> float:
    """Return the plain mean of dB, for baselines and trends of one point: its scatter is normal in dB.

    At least one level, else ValueError.
    """
    if not levels_db:
        msg = "a mean needs a level"
        raise ValueError(msg)
    return math.fsum(levels_db) / len(levels_db)
