"""How much grease a rolling bearing takes and how long it lasts: the usual rules, and where they end."""

import math
from collections.abc import Callable, Mapping, Sequence
from enum import StrEnum
from types import MappingProxyType
from typing import Any, NamedTuple

from findings.physics import uncertainty
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.input_check import number_problems

VERSION = "1"
CHARGE_KG_PER_M2 = 5.0
"""0.005 g per mm of outer diameter and mm of width (handbooks of rolling bearings)."""
CHARGE_RELATIVE_U = 0.2
INTERVAL_RELATIVE_U = 1.0 / 3.0
"""What the rules of thumb leave open (judgement)."""
LONGEST_INTERVAL_H = 32_000.0
"""No rule promises more: grease ages standing still (a technical guide on relubrication)."""
RULE_TEMPERATURE_K = 343.15
HALVING_K = 15.0
LARGEST_COOL_FACTOR = 2.0
HOTTEST_K = 393.15
"""Above 120 °C ordinary grease is out of its range (judgement)."""
VERTICAL_FACTOR = 0.5
SIZES_M = (0.001, 3.0)
SLOWEST_HZ = 1e-3


class BearingType(StrEnum):
    """Name the rolling elements, as far as the interval tells them apart."""

    BALL = "ball"
    CYLINDRICAL_OR_NEEDLE = "cylindrical_or_needle"
    SPHERICAL_TAPERED_OR_THRUST = "spherical_tapered_or_thrust"


class Shaft(StrEnum):
    """Name how the shaft lies."""

    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"


TYPE_FACTORS: Mapping[BearingType, float] = MappingProxyType(
    {
        BearingType.BALL: 10.0,
        BearingType.CYLINDRICAL_OR_NEEDLE: 5.0,
        BearingType.SPHERICAL_TAPERED_OR_THRUST: 1.0,
    }
)


class Duty(NamedTuple):
    """What shortens the interval: bearing temperature, the shaft's lie, and the site's own two factors.

    ``vibration_factor`` and ``contamination_factor`` lie above 0 and up to 1; the site sets them.
    """

    temperature_k: float | None = None
    shaft: Shaft = Shaft.HORIZONTAL
    vibration_factor: float = 1.0
    contamination_factor: float = 1.0


NO_DUTY = Duty()


def grease_charge(outer_diameter_m: float, width_m: float) -> Estimate:
    """Return the grease of one relubrication in kg: 0.005 g times diameter times width in mm.

    For housings with an outlet and up to 3 m of diameter. Source: handbooks of rolling bearings.
    """
    problems = _size_problems(outer_diameter=outer_diameter_m, width=width_m)
    return _result(
        lambda: CHARGE_KG_PER_M2 * outer_diameter_m * width_m,
        unit="kg",
        method="charge_by_size",
        relative_u=CHARGE_RELATIVE_U,
        problems=problems,
        reasons=[_thumb("charge", "a fifth")],
        inputs={"outer_diameter_m": outer_diameter_m, "width_m": width_m},
    )


def duty_factor(duty: Duty) -> float:
    """Return the factor on the interval: halved per 15 K above 70 °C, at most doubled below, halved upright.

    Source: a handbook page on adjusting relubrication; the steady rule between the steps is our own.
    """
    temperature = RULE_TEMPERATURE_K if duty.temperature_k is None else duty.temperature_k
    heat = min(math.exp2((RULE_TEMPERATURE_K - temperature) / HALVING_K), LARGEST_COOL_FACTOR)
    lie = VERTICAL_FACTOR if duty.shaft is Shaft.VERTICAL else 1.0
    return heat * lie * duty.vibration_factor * duty.contamination_factor


def relubrication_interval(
    speed_hz: float,
    bore_m: float,
    bearing: BearingType,
    duty: Duty = NO_DUTY,
    *,
    speed_limit_hz: float | None = None,
) -> Estimate:
    """Return the running time in s until fresh grease is due: k (14e6 / (n sqrt d) - 4 d) F hours.

    n is in turns per minute and d the bore in mm. Refused where the formula turns negative, above the
    bearing's grease speed limit, above 120 °C. At most 32 000 h. Source: a technical guide on
    relubrication, restated by several; the factors F by ``duty_factor``.
    """
    problems = _interval_problems(speed_hz, bore_m, duty, speed_limit_hz)
    hours = math.nan
    if not problems:
        hours = _hours(speed_hz * 60.0, bore_m * 1000.0, TYPE_FACTORS[bearing]) * duty_factor(duty)
        if hours <= 0.0:
            text = (
                "The bearing is too large for its speed: the formula is out of its range; ask its supplier."
            )
            problems.append(Reason("formula_out_of_range", text))
    return _result(
        lambda: min(hours, LONGEST_INTERVAL_H) * 3600.0,
        unit="s",
        method="interval_by_speed_and_bore",
        relative_u=INTERVAL_RELATIVE_U,
        problems=problems,
        reasons=_interval_remarks(hours, duty, speed_limit_hz),
        inputs={
            "speed_hz": speed_hz,
            "bore_m": bore_m,
            "bearing": bearing.value,
            "duty_factor": None if problems else duty_factor(duty),
        },
    )


def _interval_problems(
    speed_hz: float, bore_m: float, duty: Duty, speed_limit_hz: float | None
) -> list[Reason]:
    """Return why the interval's formula can't be used."""
    problems = [*_size_problems(bore=bore_m), *_duty_problems(duty)]
    if not (math.isfinite(speed_hz) and speed_hz >= SLOWEST_HZ):
        text = "The rule is for turning shafts, from a turn in a quarter of an hour on."
        problems.append(Reason("speed_too_low", text))
    elif speed_limit_hz is not None and not speed_hz <= speed_limit_hz:
        text = "The shaft turns faster than the bearing's speed limit with grease; ask its supplier."
        problems.append(Reason("speed_beyond_limit", text))
    return problems


def _interval_remarks(hours: float, duty: Duty, speed_limit_hz: float | None) -> list[Reason]:
    """Return what a reader of the interval should know."""
    remarks = [_thumb("interval", "a third")]
    if hours > LONGEST_INTERVAL_H:
        remarks.append(Reason("capped", "The formula gives more than 32 000 h; that is the most."))
    if speed_limit_hz is None:
        text = "The bearing's speed limit with grease wasn't given, so it wasn't checked."
        remarks.append(Reason("speed_limit_unknown", text))
    if duty.temperature_k is None:
        remarks.append(
            Reason("temperature_assumed", "The bearing's temperature isn't known; 70 °C is assumed.")
        )
    return remarks


def _hours(speed_rpm: float, bore_mm: float, factor: float) -> float:
    """Return the formula's hours without duty factors; negative outside its range."""
    return factor * (14e6 / (speed_rpm * math.sqrt(bore_mm)) - 4.0 * bore_mm)


def _thumb(what: str, part: str) -> Reason:
    """Return the reminder that the figure is a rule of thumb."""
    text = f"A rule of thumb: {part} of the {what} is taken as its standard uncertainty (judgement)."
    return Reason("rule_of_thumb", text)


def _size_problems(**sizes_m: float) -> list[Reason]:
    """Return a problem for each size that no bearing has."""
    return [
        Reason(f"{name}_out_of_range", f"{name.replace('_', ' ').capitalize()} must lie from 1 mm to 3 m.")
        for name, size in sizes_m.items()
        if not SIZES_M[0] <= size <= SIZES_M[1]
    ]


def _duty_problems(duty: Duty) -> list[Reason]:
    """Return why the duty can't be computed with."""
    problems = []
    factors = (duty.vibration_factor, duty.contamination_factor)
    if not all(0.0 < factor <= 1.0 for factor in factors):
        text = "The factors for vibration and contamination lie above 0 and up to 1."
        problems.append(Reason("factor_out_of_range", text))
    temperature = duty.temperature_k
    if temperature is not None and not 0.0 < temperature <= HOTTEST_K:
        text = "Above 120 °C the rule doesn't hold; ask the supplier of the grease."
        problems.append(Reason("temperature_out_of_range", text))
    return problems


def _result(
    model: Callable[[], float],
    *,
    unit: str,
    method: str,
    relative_u: float,
    problems: Sequence[Reason],
    reasons: Sequence[Reason],
    inputs: Mapping[str, Any],
) -> Estimate:
    """Return a rule's figure, or the refusal that its inputs earn."""
    kept = {
        name: None if isinstance(value, float) and number_problems([], [value]) else value
        for name, value in inputs.items()
    }
    if problems:
        return refused(unit=unit, method=method, version=VERSION, reasons=tuple(problems), inputs=kept)
    value = model()
    u = relative_u * value
    bounds = uncertainty.interval(value, u, floor=0.0)
    return Estimate(
        value=value,
        u=u,
        low=bounds.low,
        high=bounds.high,
        unit=unit,
        method=method,
        method_version=VERSION,
        status=Status.ESTIMATED,
        reasons=tuple(reasons),
        inputs=kept,
    )
