"""What a leak has to be to teach an instrument how much flow a level means."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Final

from findings.kinds.level_evidence import LevelEvidence, level_at_1_m
from findings.physics.gases import GASES
from findings.physics.jet_noise import DETECTOR_FREQUENCY_HZ
from findings.physics.level_model import CalibrationPoint, LeakFamily, is_saturated_leak
from findings.readings.rules import BOUNDS as READING_BOUNDS
from findings.readings.rules import LENGTHS, Attachment, DirectMethod, Problem, is_storable

AIRBORNE: Final = (Attachment.OPEN_HORN, Attachment.DISH)
"""Attachments that listen through air; a probe's level depends on the part that it touches."""

MEASURED: Final = tuple(method for method in DirectMethod if method is not DirectMethod.STATED)
"""Ways of measuring a flow that need no level."""

LEAST_ABOVE_BACKGROUND_DB: Final = 3.0
"""Nearer to the background the corrected level is an upper bound (the survey grade's limit, ISO 3746)."""

LARGEST_RELATIVE_U: Final = 0.3
"""A flow less sure than this teaches next to nothing (our judgement)."""

BOUNDS: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        **{
            name: READING_BOUNDS[name]
            for name in (
                "level_db",
                "background_db",
                "band_centre_hz",
                "air_temperature_k",
                "relative_humidity",
                "flow_m3_per_s",
                "flow_u_m3_per_s",
            )
        },
        "distance_m": (0.1, 20.0),
        "pressure_gauge_pa": (1.0, 40_000_000.0),
    }
)

_MEMBERS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "distance": "distance_m",
        "air_temperature": "air_temperature_k",
        "humidity": "relative_humidity",
        "frequency": "band_centre_hz",
    }
)
"""Which member a refusal of the level at 1 m speaks of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewLeak:
    """A leak heard and measured at once: SI units, gauge pressure before it, flow at 1 bar and 20 °C, dry."""

    attachment: str
    gas: str
    leak_family: str
    taken_at: datetime
    level_db: float
    distance_m: float
    pressure_gauge_pa: float
    flow_m3_per_s: float
    flow_u_m3_per_s: float
    flow_method: str
    background_db: float | None = None
    band_centre_hz: float | None = None
    air_temperature_k: float | None = None
    relative_humidity: float | None = None
    note: str = ""

    def pressure_ratio(self, air_pressure_pa: float) -> float:
        """Return the absolute pressure before the leak over the air's."""
        return (self.pressure_gauge_pa + air_pressure_pa) / air_pressure_pa


def problems_of(leak: NewLeak) -> list[Problem]:
    """List everything for which a leak can teach nothing; nothing of other rows is asked."""
    numbers = list(_number_problems(leak))
    return [*_word_problems(leak), *numbers, *([] if numbers else _doubtful(leak))]


def _word_problems(leak: NewLeak) -> Iterator[Problem]:
    allowed = {
        "attachment": {word.value for word in AIRBORNE},
        "gas": set(GASES),
        "leak_family": {word.value for word in LeakFamily},
        "flow_method": {word.value for word in MEASURED},
    }
    for member, words in allowed.items():
        if getattr(leak, member) not in words:
            yield Problem(member, "invalid_choice", f"One of {', '.join(sorted(words))}.")
    if len(leak.note) > LENGTHS["note"] or not is_storable(leak.note):
        yield Problem("note", "max_length", f"At most {LENGTHS['note']} storable characters.")


def _number_problems(leak: NewLeak) -> Iterator[Problem]:
    for member, (low, high) in BOUNDS.items():
        value = getattr(leak, member)
        if value is not None and (not math.isfinite(value) or not low <= value <= high):
            yield Problem(member, "out_of_range", f"It has to lie between {low:g} and {high:g}.")


def _doubtful(leak: NewLeak) -> Iterator[Problem]:
    if leak.background_db is not None and leak.level_db < leak.background_db + LEAST_ABOVE_BACKGROUND_DB:
        text = (
            "The level lies too near to the background, so that it is an upper bound only. "
            "Quieten what hisses beside it, or take a larger leak."
        )
        yield Problem("background_db", "background", text)
    if leak.flow_m3_per_s <= 0.0:
        yield Problem("flow_m3_per_s", "out_of_range", "A calibration leak has a flow.")
    elif not 0.0 < leak.flow_u_m3_per_s <= LARGEST_RELATIVE_U * leak.flow_m3_per_s:
        text = (
            f"The flow's standard uncertainty has to be above 0 and at most {LARGEST_RELATIVE_U:.0%} of it."
        )
        yield Problem("flow_u_m3_per_s", "flow_uncertain", text)


def normalised(leak: NewLeak, air_pressure_pa: float) -> tuple[float | None, list[Problem]]:
    """Return the leak's own level in dB at 1 m, or why it can't be brought there or tells nothing there."""
    evidence = LevelEvidence(
        level_db=leak.level_db,
        background_db=leak.background_db,
        distance_m=leak.distance_m,
        air_temperature_k=leak.air_temperature_k,
        relative_humidity=leak.relative_humidity,
        air_pressure_pa=air_pressure_pa,
        frequency_hz=leak.band_centre_hz or DETECTOR_FREQUENCY_HZ,
    )
    level = level_at_1_m(evidence).estimate
    if level.value is None:
        return None, [Problem(_MEMBERS.get(why.code, "level_db"), *why) for why in level.reasons]
    frequency_hz, flow_u = evidence.frequency_hz, leak.flow_u_m3_per_s
    point = CalibrationPoint(level.value, leak.pressure_ratio(air_pressure_pa), leak.flow_m3_per_s, flow_u)
    if is_saturated_leak(point, frequency_hz=frequency_hz):
        text = "So large a leak sounds no louder than a larger one in this band; it would bend the fit."
        return None, [Problem("flow_m3_per_s", "saturated", text)]
    return level.value, []
