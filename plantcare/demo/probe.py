"""How the demo's bearings are listened to, always the same way, and how a good one sounds."""

from __future__ import annotations

import random
from typing import Any, Final

GOOD_DB: Final = 24.0
"""What a good bearing of the plant shows, on the average: invented."""
SPREAD_DB: Final = 1.2
HELD: Final[dict[str, Any]] = {
    "attachment": "contact_probe",
    "probe": "rod 100 mm, held by hand",
    "shaft_speed_hz": 24.5,
}
"""How the probe touches and the drives turn: invented."""


def good_level(dice: random.Random) -> float:
    """Return what a good bearing shows this time, dB."""
    return round(GOOD_DB + (2.0 * dice.random() - 1.0) * SPREAD_DB, 1)
