"""Words of the readings room, and what a reading has to be to be kept."""

from __future__ import annotations

import hashlib
import json
import math
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from datetime import UTC, datetime, timedelta
from enum import IntEnum, StrEnum
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from findings.kinds.base import Kind, Medium
from findings.kinds.registry import kind_of
from findings.physics.level_form import LeakFamily


class Edge(StrEnum):
    """The shape of an opening's inlet, which sets its discharge coefficient."""

    SHARP = "sharp"
    ROUNDED = "rounded"
    UNKNOWN = "unknown"


class Attachment(StrEnum):
    """What sat on the detector; levels through different ones are never compared."""

    OPEN_HORN = "open_horn"
    DISH = "dish"
    CONTACT_PROBE = "contact_probe"


class Greasing(StrEnum):
    """When, about a greasing, a level was read; the technician says so, nothing guesses it."""

    BEFORE = "before"
    DURING = "during"
    AFTER = "after"


class DirectMethod(StrEnum):
    """How a flow came to be known without the ultrasound level."""

    STATED = "stated"
    BAG = "bag"
    CYLINDER = "cylinder"
    FLOW_METER = "flow_meter"
    VARIABLE_AREA_METER = "variable_area_meter"
    PRESSURE_DECAY = "pressure_decay"


class Severity(IntEnum):
    """The inspector's judgement where nothing is computed yet."""

    SLIGHT = 1
    MODERATE = 2
    MARKED = 3
    SEVERE = 4
    ACUTE = 5


FUTURE_TOLERANCE: Final = timedelta(minutes=10)
"""A reading from further ahead is refused: the sender's clock is wrong (our judgement)."""

BOUNDS: Final[Mapping[str, tuple[float, float]]] = MappingProxyType(
    {
        "level_db": (-40.0, 200.0),
        "background_db": (-40.0, 200.0),
        "distance_m": (0.001, 200.0),
        "pressure_gauge_pa": (-101_325.0, 40_000_000.0),
        "temperature_k": (150.0, 1_000.0),
        "hole_diameter_m": (1e-6, 1.0),
        "flow_m3_per_s": (0.0, 100.0),
        "flow_u_m3_per_s": (0.0, 100.0),
        "air_temperature_k": (220.0, 340.0),
        "relative_humidity": (0.0, 1.0),
        "band_centre_hz": (1_000.0, 200_000.0),
        "shaft_speed_hz": (0.0, 5_000.0),
        "load_share": (0.0, 1.5),
        "severity": (1, 5),
    }
)
"""What can be meant; anything outside is a slip of the pen or of the unit (our judgement)."""

LENGTHS: Final[Mapping[str, int]] = MappingProxyType(
    {"client_id": 100, "pattern": 24, "note": 10_000, "probe": 60}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewReading:
    """A reading as it arrives: SI units, gauge pressure, flow at 1 bar and 20 °C; ``kind`` "" is quiet.

    ``temperature_k`` is the gas's before the leak, ``air_temperature_k`` the hall's. ``load_share`` is of
    the rated load; ``probe`` names the tip that touched, for levels compare through one probe only.
    """

    client_id: str
    point_id: uuid.UUID
    taken_at: datetime
    kind: str = ""
    medium: str = ""
    instrument_id: uuid.UUID | None = None
    level_db: float | None = None
    background_db: float | None = None
    distance_m: float | None = None
    pressure_gauge_pa: float | None = None
    temperature_k: float | None = None
    hole_diameter_m: float | None = None
    edge: str = ""
    flow_m3_per_s: float | None = None
    flow_u_m3_per_s: float | None = None
    flow_method: str = ""
    severity: int | None = None
    pattern: str = ""
    note: str = ""
    attachment: str = ""
    leak_family: str = ""
    air_temperature_k: float | None = None
    relative_humidity: float | None = None
    band_centre_hz: float | None = None
    probe: str = ""
    shaft_speed_hz: float | None = None
    load_share: float | None = None
    greasing: str = ""
    as_sent: Mapping[str, Any] = field(default_factory=dict)
    corrects_id: uuid.UUID | None = None


_CAME_LATER: Final = frozenset(
    {
        "attachment",
        "leak_family",
        "air_temperature_k",
        "relative_humidity",
        "band_centre_hz",
        "probe",
        "shaft_speed_hz",
        "load_share",
        "greasing",
    }
)
"""Unsaid, they leave the fingerprint as it was before there were such members."""


class Problem(NamedTuple):
    """What is wrong with one member of a reading."""

    member: str
    code: str
    text: str


class Doubt(NamedTuple):
    """What makes a reading doubtful without refusing it."""

    code: str
    text: str


def fingerprint(reading: NewReading, survey_id: uuid.UUID) -> bytes:
    """Return 32 bytes that tell one content from another, whatever the sender's way of writing it."""
    content: dict[str, Any] = {"survey": str(survey_id)}
    for part in fields(reading):
        value = getattr(reading, part.name)
        if part.name == "as_sent" or (part.name in _CAME_LATER and value in {None, ""}):
            continue
        if isinstance(value, datetime):
            value = value.astimezone(UTC).isoformat(timespec="microseconds")
        elif isinstance(value, int | float):
            value = repr(float(value))
        content[part.name] = None if value is None else str(value)
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).digest()


def is_storable(text: str) -> bool:
    """Tell whether a text can be kept: no null character and no half of a surrogate pair."""
    return not any(sign == "\x00" or "\ud800" <= sign <= "\udfff" for sign in text)


def problems_of(reading: NewReading) -> list[Problem]:
    """List everything that refuses a reading for itself; nothing of other rows is asked."""
    return [*_number_problems(reading), *_word_problems(reading), *_kind_problems(reading)]


def _number_problems(reading: NewReading) -> Iterator[Problem]:
    for member, (low, high) in BOUNDS.items():
        value = getattr(reading, member)
        if value is None:
            continue
        if not math.isfinite(value) or not low <= value <= high:
            yield Problem(member, "out_of_range", f"It has to lie between {low:g} and {high:g}.")


def _word_problems(reading: NewReading) -> Iterator[Problem]:
    words: dict[str, type[StrEnum]] = {
        "kind": Kind,
        "medium": Medium,
        "edge": Edge,
        "flow_method": DirectMethod,
        "attachment": Attachment,
        "leak_family": LeakFamily,
        "greasing": Greasing,
    }
    for member, words_of in words.items():
        value = getattr(reading, member)
        if value and value not in {word.value for word in words_of}:
            yield Problem(member, "invalid_choice", f"“{value}” is none of the known words.")
    for member, longest in LENGTHS.items():
        text = getattr(reading, member)
        if len(text) > longest or not is_storable(text):
            yield Problem(member, "max_length", f"At most {longest} storable characters.")
    if not reading.client_id.strip():
        yield Problem("client_id", "required", "Every reading has the sender's own key.")
    if reading.flow_m3_per_s is not None and not reading.flow_method:
        yield Problem("flow_method", "required", "A flow says how it came to be known.")


def _kind_problems(reading: NewReading) -> Iterator[Problem]:
    if reading.kind not in {kind.value for kind in Kind}:
        return
    definition = kind_of(reading.kind)
    for need in sorted(definition.needs):
        if getattr(reading, need, 0) is None:
            yield Problem(need, "required", f"{definition.label} isn't recorded without it.")
    if reading.medium and reading.medium in {medium.value for medium in Medium}:
        for code in definition.problems_of_medium(Medium(reading.medium)):
            yield Problem("medium", code, f"{definition.label} isn't found on this medium.")
