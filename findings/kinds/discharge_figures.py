"""The figures of a discharge for people: what each is called, and its unit."""

from typing import Any, Final, NamedTuple

from findings.sound.discharge import Features


class Figure(NamedTuple):
    """A figure's words and unit; a unit of "" is a plain number."""

    words: str
    unit: str


FIGURES: Final[dict[str, Figure]] = {
    "seconds": Figure("Length of the recording", "s"),
    "level_db": Figure("Level in the band analysed", "dB re full scale"),
    "clipped_share": Figure("Share of clipped samples", "share"),
    "mains_hz": Figure("Mains frequency that fits best", "Hz"),
    "harmonics": Figure("Mains harmonics 1 to 10 that stand out", ""),
    "other_lines": Figure("Lines that aren't the mains'", ""),
    "comb_db": Figure("Mains harmonics over the rest of the envelope", "dB"),
    "depth": Figure("Depth of their modulation", "share"),
    "second_to_first_db": Figure("Second harmonic over the first", "dB"),
    "high_share": Figure("Share of harmonics 3 to 10 in their power", "share"),
    "high_share_at_most": Figure("The same with harmonics too faint to stand out", "share"),
    "cycle_cv": Figure("Scatter of the energy from cycle to cycle over its mean", "share"),
    "loud_cycles_per_s": Figure("Mains cycles that stand out", "per s"),
    "bursts_per_s": Figure("Bursts", "per s"),
    "burst_duty": Figure("Share of the time that bursts last", "share"),
}


def features_told(features: Features | None) -> list[dict[str, Any]]:
    """Return each figure with its name, words, value and unit; none where nothing was heard."""
    if features is None:
        return []
    return [
        {"name": name, "words": figure.words, "value": getattr(features, name), "unit": figure.unit}
        for name, figure in FIGURES.items()
    ]
