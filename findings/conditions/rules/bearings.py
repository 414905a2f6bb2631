"""What may be known of a bearing or gear at a measuring point, and what follows for grease and ear."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from enum import StrEnum
from types import MappingProxyType
from typing import Final, NamedTuple

from findings.physics.defect_frequencies import (
    FASTEST_HZ,
    DefectFrequencies,
    Geometry,
    defect_frequencies,
    geometry_problems,
)
from findings.physics.estimate import Estimate, Reason, refused
from findings.physics.relubrication import (
    VERSION,
    BearingType,
    Duty,
    Shaft,
    grease_charge,
    relubrication_interval,
)


class TemperatureClass(StrEnum):
    """How warm the bearing runs at most."""

    UP_TO_70_C = "up_to_70_c"
    UP_TO_85_C = "up_to_85_c"
    UP_TO_100_C = "up_to_100_c"
    UP_TO_120_C = "up_to_120_c"


TEMPERATURE_K: Final[Mapping[TemperatureClass, float]] = MappingProxyType(
    {
        TemperatureClass.UP_TO_70_C: 343.15,
        TemperatureClass.UP_TO_85_C: 358.15,
        TemperatureClass.UP_TO_100_C: 373.15,
        TemperatureClass.UP_TO_120_C: 393.15,
    }
)
"""A class counts by its upper end, which gives the shorter interval."""
BOUNDS: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "bore_m": (0.001, 3.0),
        "outer_diameter_m": (0.001, 3.0),
        "width_m": (0.001, 3.0),
        "element_diameter_m": (0.0001, 3.0),
        "pitch_diameter_m": (0.001, 3.0),
        "elements": (3, 1000),
        "contact_angle_rad": (0.0, 1.57),
        "shaft_speed_hz": (0.001, FASTEST_HZ),
        "grease_speed_limit_hz": (0.001, FASTEST_HZ),
        "gear_teeth": (3, 10_000),
    }
)
"""What can be meant; anything outside is a slip of the pen or of the unit (judgement)."""


class Problem(NamedTuple):
    """What is wrong with one member of what was sent."""

    member: str
    code: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Particulars:
    """What is known of the bearing or gear at a point, in SI units; None and "" mean that nobody said it.

    ``shaft_speed_hz`` is the rated speed of the shaft. ``speed_varies`` False says that the machine runs at
    that speed or not at all, so that it stands in for a speed that nobody noted.
    """

    bearing_type: str = ""
    designation: str = ""
    bore_m: float | None = None
    outer_diameter_m: float | None = None
    width_m: float | None = None
    elements: int | None = None
    element_diameter_m: float | None = None
    pitch_diameter_m: float | None = None
    contact_angle_rad: float | None = None
    shaft_speed_hz: float | None = None
    speed_varies: bool | None = None
    grease_speed_limit_hz: float | None = None
    gear_teeth: int | None = None
    vertical_shaft: bool | None = None
    temperature_class: str = ""
    note: str = ""


MEMBERS: Final = tuple(member.name for member in fields(Particulars))


def particulars_problems(known: Particulars) -> list[Problem]:
    """Return everything that no bearing can be."""
    return [*_range_problems(known), *_size_problems(known), *_geometry_problems(known)]


def _range_problems(known: Particulars) -> Iterator[Problem]:
    for member, (low, high) in BOUNDS.items():
        value = getattr(known, member)
        if value is not None and not (math.isfinite(value) and low <= value <= high):
            yield Problem(member, "out_of_range", f"It has to lie between {low:g} and {high:g}.")
    if known == Particulars():
        yield Problem("bearing_type", "nothing_said", "Say at least one thing of the bearing or gear.")


def _size_problems(known: Particulars) -> Iterator[Problem]:
    bore, outer, pitch = known.bore_m, known.outer_diameter_m, known.pitch_diameter_m
    if bore is not None and outer is not None and not bore < outer:
        yield Problem("bore_m", "sizes_unfit", "The bore lies inside the outer diameter.")
    if pitch is None:
        return
    if (bore is not None and not bore < pitch) or (outer is not None and not pitch < outer):
        text = "The circle of the elements lies between bore and outer diameter."
        yield Problem("pitch_diameter_m", "sizes_unfit", text)


def _geometry_problems(known: Particulars) -> Iterator[Problem]:
    geometry = geometry_of(known)
    for reason in geometry_problems(geometry) if geometry is not None else ():
        yield Problem("elements", reason.code, reason.text)


def geometry_of(known: Particulars) -> Geometry | None:
    """Return the geometry that the rhythms of damage follow from; None where a part of it isn't known.

    Without a contact angle the bearing is taken as a radial one.
    """
    if known.elements is None or known.element_diameter_m is None or known.pitch_diameter_m is None:
        return None
    angle = known.contact_angle_rad or 0.0
    return Geometry(known.elements, known.element_diameter_m, known.pitch_diameter_m, angle)


def frequencies_of(known: Particulars, shaft_speed_hz: float | None) -> DefectFrequencies | None:
    """Return where the rhythms of a damaged bearing lie at a speed, else at the rated one."""
    speed_hz = known.shaft_speed_hz if shaft_speed_hz is None else shaft_speed_hz
    geometry = geometry_of(known)
    if geometry is None or speed_hz is None:
        return None
    return defect_frequencies(geometry, speed_hz)


def charge_of(known: Particulars | None) -> Estimate:
    """Return the grease of one relubrication in kg, or why it can't be told."""
    missing = _missing(known, ("outer_diameter_m", "width_m"))
    if known is None or known.outer_diameter_m is None or known.width_m is None:
        return refused(unit="kg", method="charge_by_size", version=VERSION, reasons=missing, inputs={})
    return grease_charge(known.outer_diameter_m, known.width_m)


def interval_of(known: Particulars | None, shaft_speed_hz: float | None = None) -> Estimate:
    """Return the running time in s until fresh grease is due, at a speed or the rated one, or why not."""
    speed_hz = known.shaft_speed_hz if known is not None and shaft_speed_hz is None else shaft_speed_hz
    names = ("bearing_type", "bore_m", *(() if speed_hz is not None else ("shaft_speed_hz",)))
    missing = _missing(known, names)
    if known is None or known.bore_m is None or speed_hz is None or missing:
        method = "interval_by_speed_and_bore"
        return refused(unit="s", method=method, version=VERSION, reasons=missing, inputs={})
    warmth = known.temperature_class
    duty = Duty(
        temperature_k=TEMPERATURE_K[TemperatureClass(warmth)] if warmth else None,
        shaft=Shaft.VERTICAL if known.vertical_shaft else Shaft.HORIZONTAL,
    )
    return relubrication_interval(
        speed_hz,
        known.bore_m,
        BearingType(known.bearing_type),
        duty,
        speed_limit_hz=known.grease_speed_limit_hz,
    )


_WORDS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "bearing_type": "the kind of its rolling elements",
        "bore_m": "its bore",
        "outer_diameter_m": "its outer diameter",
        "width_m": "its width",
        "shaft_speed_hz": "the shaft speed",
    }
)


def _missing(known: Particulars | None, names: tuple[str, ...]) -> tuple[Reason, ...]:
    return tuple(
        Reason(f"{name}_unknown", f"Of the bearing, {_WORDS[name]} isn't known: add it to the particulars.")
        for name in names
        if known is None or getattr(known, name) in {None, ""}
    )
