"""What a train of decaying bursts does to kurtosis and rms, alone and in noise (own derivation).

A train of bursts exp(-t/tau) of a carrier, one every T, has mean square tau/(4 T) and mean fourth power
3 tau/(32 T), hence kurtosis 1.5 T/tau. In normal noise the second moments add and the fourths follow.
"""

import math
from typing import Final

from findings.physics.estimate import Reason

VERSION: Final = "1"
DIED_AWAY: Final = 5.0  # the next burst begins at under a hundredth of the last
OVERLAP: Final = Reason(
    "overlap",
    "The bursts run into each other: the decay is longer than a fifth of the time to the next, so the "
    "formula is out of its range.",
)
NORMAL: Final = 3.0


def burst_kurtosis(period_s: float, decay_s: float) -> float | None:
    """Return the kurtosis of the train alone, None where bursts overlap (decay over a fifth of the period).

    Valid for a carrier much faster than the decay. Both arguments are above zero.
    """
    return 1.5 * period_s / decay_s if period_s >= DIED_AWAY * decay_s else None


def burst_rms(period_s: float, decay_s: float, height: float = 1.0) -> float | None:
    """Return the rms of the train whose bursts begin with this height; None where bursts overlap."""
    return height * math.sqrt(decay_s / (4.0 * period_s)) if period_s >= DIED_AWAY * decay_s else None


def kurtosis_in_noise(kurtosis: float, power_ratio: float) -> float:
    """Return the kurtosis of a sound of this kurtosis in normal noise; ``power_ratio`` is sound over noise.

    At a ratio of 0.25 a kurtosis of 15 has shrunk to 3.5: a low kurtosis proves nothing in noise.
    """
    return (kurtosis * power_ratio**2 + 6.0 * power_ratio + NORMAL) / (1.0 + power_ratio) ** 2
