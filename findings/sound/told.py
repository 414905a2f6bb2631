"""What the sender of a recording tells of it, because the file can't."""

from dataclasses import dataclass
from enum import StrEnum


class GainLocked(StrEnum):
    """Whether the instrument kept its gain while it recorded."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class SoundBand(StrEnum):
    """What the file holds: ultrasound brought down to hearing, or the ultrasound itself."""

    HETERODYNED = "heterodyned"
    FULL_BAND = "full_band"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Which channel to hear, counted from 1, and how it was recorded."""

    channel: int = 1
    gain_locked: GainLocked = GainLocked.UNKNOWN
    sound_band: SoundBand = SoundBand.UNKNOWN
