"""Words of the readings room."""

from __future__ import annotations

from enum import IntEnum, StrEnum


class Edge(StrEnum):
    """The shape of an opening's inlet, which sets its discharge coefficient."""

    SHARP = "sharp"
    ROUNDED = "rounded"
    UNKNOWN = "unknown"


class DirectMethod(StrEnum):
    """How a flow came to be known without the ultrasound level."""

    STATED = "stated"
    BAG = "bag"
    FLOW_METER = "flow_meter"
    PRESSURE_DECAY = "pressure_decay"


class Severity(IntEnum):
    """The inspector's judgement where nothing is computed yet."""

    SLIGHT = 1
    MODERATE = 2
    MARKED = 3
    SEVERE = 4
    ACUTE = 5
