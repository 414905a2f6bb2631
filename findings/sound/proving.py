"""How often the discharge rules are right, on invented recordings of seeds they were never set on."""

from collections import Counter
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Final

from findings.sound.discharge import Sound
from findings.sound.discharge_features import hear_discharge
from findings.sound.synthetic import Truth, synthetic

SETTING_SEEDS: Final = range(40)
JUDGING_SEEDS: Final = range(4_000, 4_050)
EXPECTED: Final[Mapping[Truth, Sound]] = MappingProxyType(
    {
        Truth.CORONA: Sound.CORONA,
        Truth.TRACKING: Sound.TRACKING,
        Truth.ARCING: Sound.ARCING,
        Truth.HUM: Sound.HUM,
        Truth.NOISE: Sound.NOISE,
        Truth.SILENCE: Sound.INCONCLUSIVE,
    }
)


def confusion(
    seeds: Iterable[int], *, snr_db: float, mains_hz: float = 50.0, told_mains: bool = False
) -> dict[Truth, Counter[Sound]]:
    """Return for each truth how often each class came out, with the site's mains told or not."""
    given = mains_hz if told_mains else None
    kept = tuple(seeds)
    return {
        truth: Counter(
            hear_discharge(
                synthetic(truth, seed, snr_db=snr_db, mains_hz=mains_hz), mains_hz=given
            ).verdict.sound
            for seed in kept
        )
        for truth in EXPECTED
    }
