"""How wide a total is: what is shared by all its parts does not average out."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

COVERAGE: Final = 2.0
"""Interval = value plus and minus twice the standard uncertainty."""


@dataclass(frozen=True, slots=True)
class SharedUncertainty:
    """Relative standard uncertainties that all findings of a site have in common.

    `flow` is the method and the instrument; `energy` the specific energy. Our judgement, the site's
    to replace by what it has measured.
    """

    flow: float = 0.15
    energy: float = 0.05


@dataclass(frozen=True, slots=True)
class Width:
    """A total with half the width of its interval (k = 2), and how much of that is one shared error."""

    value: float
    half_width: float
    shared_part: float


def width_of_sum(parts: Iterable[tuple[float, float]], shared: float) -> Width:
    """Add parts, each a value with its own standard uncertainty, and one relative error they share.

    u² = Σ u_i² + (shared × Σ value)², after JCGM 100 with full correlation of the shared part.
    """
    pairs = list(parts)
    total = math.fsum(value for value, _ in pairs)
    own = math.fsum(u * u for _, u in pairs)
    common = (shared * total) ** 2
    whole = own + common
    return Width(total, COVERAGE * math.sqrt(whole), common / whole if whole else 0.0)


def scale_width(flow: Width, factor: float, relative: float) -> Width:
    """Multiply a total by a factor that has its own relative standard uncertainty."""
    value = flow.value * factor
    if flow.value == 0:
        return Width(0.0, 0.0, flow.shared_part)
    u_flow = flow.half_width / COVERAGE / flow.value
    u = math.hypot(u_flow, relative)
    shared = (u_flow**2 * flow.shared_part + relative**2) / u**2 if u else 0.0
    return Width(value, COVERAGE * u * abs(value), shared)


@dataclass(frozen=True, slots=True)
class Reconciled:
    """The survey against the compressor room, both in m³/s; |z| above 2 does not reconcile."""

    room_m3_per_s: float
    survey_m3_per_s: float
    residual_m3_per_s: float
    z: float

    @property
    def holds(self) -> bool:
        """Say whether room and survey agree within their uncertainties."""
        return abs(self.z) <= 2


def reconcile(
    *,
    capacity_m3_per_s: float,
    loaded_s: float,
    total_s: float,
    survey_m3_per_s: float,
    u_room_m3_per_s: float,
    u_survey_m3_per_s: float,
) -> Reconciled:
    """Compare the sum of a survey with a test of the loaded time while nothing is produced.

    Room flow = capacity × loaded time / whole time. Uncertainties are standard ones. Raises
    ValueError on times or uncertainties that make no sense.
    """
    u = math.hypot(u_room_m3_per_s, u_survey_m3_per_s)
    if not (0 <= loaded_s <= total_s and total_s > 0 and u > 0 and capacity_m3_per_s > 0):
        msg = "The loaded time must lie within the whole time, and some uncertainty be given."
        raise ValueError(msg)
    room = capacity_m3_per_s * loaded_s / total_s
    residual = room - survey_m3_per_s
    return Reconciled(room, survey_m3_per_s, residual, residual / u)
