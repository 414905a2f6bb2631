"""What is said of a panel, who may release its opening, and whether a release is in force."""

from findings.panels.rules.panels import (
    HIGHEST_V,
    MAINS_HZ,
    Enclosure,
    usual_mains_hz,
)
from findings.panels.rules.releases import (
    LONGEST_QUALIFICATION,
    LONGEST_RELEASE,
    SHORTEST_REASON,
    ReleaseState,
    Technique,
    state_of,
)

__all__ = [
    "HIGHEST_V",
    "LONGEST_QUALIFICATION",
    "LONGEST_RELEASE",
    "MAINS_HZ",
    "SHORTEST_REASON",
    "Enclosure",
    "ReleaseState",
    "Technique",
    "state_of",
    "usual_mains_hz",
]
