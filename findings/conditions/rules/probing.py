"""Which readings are judged by their contact-probe level, and as what the judgement takes them."""

import uuid
from datetime import datetime
from typing import Final, Protocol

from findings.kinds.base import Kind
from findings.kinds.wear_evidence import TakenLevel
from findings.physics.wear_baseline import Setting, WearReading
from findings.readings.rules import Attachment

DURING_GREASING: Final = "during"
"""While grease goes in the level tells of the grease, not of the machine."""


class ProbeReading(Protocol):
    """The columns of a reading that a judgement of wear takes."""

    pk: uuid.UUID
    point_id: uuid.UUID
    instrument_id: uuid.UUID | None
    taken_at: datetime
    kind: str
    level_db: float | None
    attachment: str
    probe: str
    shaft_speed_hz: float | None
    load_share: float | None
    greasing: str
    severity: int | None


def is_judged(reading: ProbeReading) -> bool:
    """Tell whether a reading's level is judged: wear that was named, or a quiet point under the probe."""
    if reading.level_db is None or reading.greasing == DURING_GREASING:
        return False
    if reading.kind == Kind.MECHANICAL_WEAR:
        return True
    return not reading.kind and reading.attachment == Attachment.CONTACT_PROBE


def taken_level(reading: ProbeReading) -> TakenLevel:
    """Return a reading that is judged as its level with how it was taken.

    The probe's name tells the probe and how it touches; case and blanks in it don't matter. Without an
    attachment, wear was heard by contact probe. Two unknown instruments never count as one.
    """
    if reading.level_db is None:
        msg = "a reading without a level isn't judged"
        raise ValueError(msg)
    setting = Setting(
        instrument=str(reading.instrument_id or f"unknown at {reading.pk}"),
        probe=" ".join(reading.probe.split()).casefold(),
        contact=reading.attachment or Attachment.CONTACT_PROBE.value,
    )
    return TakenLevel(
        reading_id=str(reading.pk),
        taken_at=reading.taken_at,
        level=WearReading(reading.level_db, setting, reading.shaft_speed_hz, reading.load_share),
        quiet=not reading.kind,
        severity=reading.severity,
    )
