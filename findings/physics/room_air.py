"""What a steady release does to the air of a room, and the air it takes: screening with its uncertainty.

Estimates for the competent person; never a zone, a clearance or a gas-free test.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from findings.physics import safety, uncertainty
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.gases import GASES
from findings.physics.input_check import number_problems
from findings.physics.measured import positive
from findings.physics.uncertainty import Uncertain

VERSION = "1"
LIMIT_TEMPERATURE_K = 293.0
"""Of the published limits, as in the formula of the earlier EN 60079-10."""
AIR_TEMPERATURES_K = (233.15, 333.15)
SMALL_RELEASE = 0.1
LARGEST_FLOW = 1e4
SCREENING = Reason(
    "screening_only",
    "An estimate for the competent person: never a clearance, a zone or a gas-free test.",
)
MIXED = Reason(
    "assumes_mixed_air",
    "Means of the whole room: close to the leak and in dead corners it is worse.",
)
TOXIC = Reason(
    "carbon_dioxide_is_toxic",
    "Carbon dioxide harms long before oxygen runs short: the occupational limit is 0.5 % over a day (29 CFR "
    "1910.1000, from memory). Measure it itself.",
)
HAZARDOUS = Reason(
    "hazardous_atmosphere",
    "At or above a tenth of the lower flammable limit, as may be reached here, an atmosphere is hazardous "
    "(29 CFR 1910.146(b)).",
)
_MOLAR_MASSES = {
    **{key: gas.molar_mass_kg_per_mol for key, gas in GASES.items()},
    "acetylene": safety.ACETYLENE_MOLAR_MASS_KG_PER_MOL,
}
GAS_KEYS = tuple(key for key in _MOLAR_MASSES if key != "air")
"""Gases that can be asked about; only some of them burn. Released air changes no air."""


def dilution_air(
    gas: str,
    release_kg_per_s: Uncertain,
    *,
    factor: float,
    temperature_k: float,
    atmosphere_pa: float,
) -> Estimate:
    """Return the least fresh air in m3/s that keeps a release below ``factor`` of the lower flammable limit.

    The lowest published limit is taken. ``factor`` above 0 to 0.5: 0.25 for continuous and primary, 0.5 for
    secondary releases. Refused for gases without a held limit. Source: see
    ``safety.least_fresh_air_m3_per_s``.
    """
    inputs = {
        "gas": gas,
        "release_kg_per_s": release_kg_per_s.value,
        "factor": factor,
        "temperature_k": temperature_k,
        "atmosphere_absolute_pa": atmosphere_pa,
    }
    problems = list(number_problems([release_kg_per_s], (factor, temperature_k, atmosphere_pa)))
    if not problems:
        problems = positive(release=release_kg_per_s.value, atmosphere=atmosphere_pa)
        problems += _air_problems(temperature_k)
        if not 0.0 < factor <= safety.SECONDARY_RELEASE_FACTOR:
            text = "The part of the limit aimed at lies above 0 and not above one half."
            problems.append(Reason("factor_out_of_range", text))
        problems += _limit_problems(gas)
    if problems:
        return _refused(problems, "m3/s", "dilution_air", inputs)
    row = safety.lowest_flammable_limit(gas)
    limit = safety.limit_as_density_kg_per_m3(
        row.lower, _MOLAR_MASSES[gas], pressure_pa=atmosphere_pa, temperature_k=LIMIT_TEMPERATURE_K
    )
    inputs |= {
        "lower_limit": row.lower,
        "lower_limit_kg_per_m3": limit,
        "lower_limit_source": row.source,
    }
    return _estimate(
        lambda release: safety.least_fresh_air_m3_per_s(
            release, limit, factor=factor, temperature_k=temperature_k
        ),
        [release_kg_per_s],
        "m3/s",
        "dilution_air",
        (SCREENING, MIXED),
        inputs,
    )


def concentration(
    gas: str,
    release_m3_per_s: Uncertain,
    air_m3_per_s: Uncertain,
    *,
    volume_m3: float,
    time_s: float,
    mixing: float = 1.0,
) -> Estimate:
    """Return the volume fraction of a gas in a room some time after a small release began.

    Flows in m3/s at the room's pressure and temperature. Refused where the release isn't small: above a tenth
    of the air, or above a tenth of the room. ``part_of_limit`` in the inputs where a limit is held.
    """
    inputs = {
        "gas": gas,
        "release_m3_per_s": release_m3_per_s.value,
        "air_m3_per_s": air_m3_per_s.value,
        "volume_m3": volume_m3,
        "time_s": time_s,
        "mixing": mixing,
        "lower_limit": None,
        "part_of_limit": None,
    }
    problems = list(number_problems([release_m3_per_s, air_m3_per_s], (volume_m3, time_s, mixing)))
    if not problems:
        problems = positive(release=release_m3_per_s.value, volume=volume_m3, time=time_s)
        problems += _room_problems(release_m3_per_s.value, air_m3_per_s.value)
        if not 0.0 < mixing <= 1.0:
            problems.append(Reason("mixing_out_of_range", "Mixing lies above 0 and not above 1."))
    if problems:
        return _refused(problems, "1", "room_concentration", inputs)

    def mean(release: float, air: float) -> float:
        return safety.room_concentration(release, air, volume_m3=volume_m3, time_s=time_s, mixing=mixing)

    reached = mean(release_m3_per_s.value, air_m3_per_s.value)
    if reached > SMALL_RELEASE:
        text = (
            "More than a tenth of the room would be gas: the form for small releases ends here. Treat the "
            "room as full of gas."
        )
        return _refused([Reason("release_not_small", text)], "1", "room_concentration", inputs)
    estimate = _estimate(
        mean, [release_m3_per_s, air_m3_per_s], "1", "room_concentration", (SCREENING, MIXED), inputs
    )
    return _beside_limit(estimate, gas)


def _beside_limit(estimate: Estimate, gas: str) -> Estimate:
    """Return a concentration with its part of the limit; the upper end decides what is hazardous."""
    reasons, inputs = list(estimate.reasons), dict(estimate.inputs)
    if estimate.value is None or estimate.high is None:
        return estimate
    if gas in safety.FLAMMABLE_LIMITS:
        row = safety.lowest_flammable_limit(gas)
        inputs |= {"lower_limit": row.lower, "part_of_limit": safety.part_of_limit(estimate.value, row.lower)}
        if safety.part_of_limit(estimate.high, row.lower) >= safety.HAZARDOUS_PART_OF_LFL:
            reasons.append(HAZARDOUS)
    elif gas == "carbon_dioxide":
        reasons.append(TOXIC)
    else:
        text = "No flammable limit is held for this gas; look at the oxygen."
        reasons.append(Reason("no_limit_held", text))
    return replace(estimate, reasons=tuple(reasons), inputs=inputs)


def oxygen(
    gas: str,
    release_m3_per_s: Uncertain,
    air_m3_per_s: Uncertain,
    *,
    volume_m3: float | None = None,
    time_s: float | None = None,
) -> Estimate:
    """Return the oxygen fraction of a room beside a steady release, for good or, with both, after a time.

    Flows in m3/s at the room's pressure and temperature. Refused for gases that burn: they are dangerous long
    before oxygen falls. ``oxygen_state`` in the inputs is deficient, normal or enriched by the interval's
    worse end.
    """
    inputs = {
        "gas": gas,
        "release_m3_per_s": release_m3_per_s.value,
        "air_m3_per_s": air_m3_per_s.value,
        "volume_m3": volume_m3,
        "time_s": time_s,
        "oxygen_state": None,
    }
    exact = [number for number in (volume_m3, time_s) if number is not None]
    problems = list(number_problems([release_m3_per_s, air_m3_per_s], exact))
    if not problems:
        problems = positive(release=release_m3_per_s.value)
        problems += _room_problems(release_m3_per_s.value, air_m3_per_s.value)
        if gas in safety.FLAMMABLE_LIMITS:
            text = "This gas burns long before it takes the oxygen: look at its concentration instead."
            problems.append(Reason("burns_first", text))
        if (volume_m3 is None) != (time_s is None) or not all(number > 0.0 for number in exact):
            text = "For a moment give both the room's volume and the time, above 0."
            problems.append(Reason("volume_or_time_missing", text))
    if problems:
        return _refused(problems, "1", "room_oxygen", inputs)
    own = gas == "oxygen"

    def fraction(release: float, air: float) -> float:
        if volume_m3 is None or time_s is None:
            return safety.oxygen_fraction(air, release, oxygen_released=own)
        return safety.oxygen_after(air, release, volume_m3=volume_m3, time_s=time_s, oxygen_released=own)

    reasons = (SCREENING, MIXED, TOXIC) if gas == "carbon_dioxide" else (SCREENING, MIXED)
    estimate = _estimate(fraction, [release_m3_per_s, air_m3_per_s], "1", "room_oxygen", reasons, inputs)
    if estimate.low is None or estimate.high is None:
        return estimate
    state = safety.oxygen_state(estimate.high if own else estimate.low)
    return replace(estimate, inputs={**estimate.inputs, "oxygen_state": state})


def _limit_problems(gas: str) -> list[Reason]:
    """Return why no flammable limit is aimed at."""
    if gas in safety.FLAMMABLE_LIMITS:
        return []
    name = gas.replace("_", " ")
    text = f"No flammable limit is held for {name}; where it displaces or adds oxygen, look at the oxygen."
    return [Reason("no_limit_held", text)]


def _air_problems(temperature_k: float) -> list[Reason]:
    """Return why this isn't the air of a room."""
    coldest, hottest = AIR_TEMPERATURES_K
    if coldest <= temperature_k <= hottest:
        return []
    return [Reason("temperature_out_of_range", "The air must be between -40 °C and 60 °C.")]


def _room_problems(release: float, air: float) -> list[Reason]:
    """Return why these flows aren't those of a room."""
    problems = []
    if air < 0.0:
        problems.append(Reason("air_below_zero", "Fresh air is never below zero."))
    if max(release, air) > LARGEST_FLOW:
        problems.append(Reason("flow_out_of_range", "A flow isn't above 10 000 m3/s; check its unit."))
    return problems


def _estimate(
    model: Callable[..., float],
    quantities: Sequence[Uncertain],
    unit: str,
    method: str,
    reasons: Sequence[Reason],
    inputs: Mapping[str, Any],
) -> Estimate:
    """Return the model's estimate, or its refusal where the numbers run away."""
    spread = uncertainty.propagate(model, quantities)
    if not (math.isfinite(spread.value) and math.isfinite(spread.u)):
        return _refused(
            [Reason("out_of_range", "These numbers aren't those of a room.")], unit, method, inputs
        )
    bounds = uncertainty.interval(spread.value, spread.u, floor=0.0)
    return Estimate(
        value=spread.value,
        u=spread.u,
        low=bounds.low,
        high=min(bounds.high, 1.0) if unit == "1" else bounds.high,
        unit=unit,
        method=method,
        method_version=VERSION,
        status=Status.ESTIMATED,
        reasons=tuple(reasons),
        inputs=inputs,
    )


def _refused(problems: Sequence[Reason], unit: str, method: str, inputs: Mapping[str, Any]) -> Estimate:
    """Return the refusal, with the inputs that JSON can carry."""
    kept = {k: None if isinstance(v, float) and not math.isfinite(v) else v for k, v in inputs.items()}
    return refused(unit=unit, method=method, version=VERSION, reasons=tuple(problems), inputs=kept)
