"""Words of the seals room."""

from enum import StrEnum
from typing import Final, NamedTuple


class SeamForm(StrEnum):
    """A ring ends where it begins; a line has two ends."""

    RING = "ring"
    LINE = "line"


class Problem(NamedTuple):
    """What is wrong with one member of what was sent."""

    member: str
    code: str
    text: str


NOT_SAID: Final = (
    "A pass speaks of sound only, on that day and with that source: it gives no flow, proves nothing for "
    "gas, water or pressure, and replaces no test that class, code or law asks for."
)
"""What a passed walk does not say (ASTM E1002 keeps tone tests to locating; the rest is our judgement)."""

CONVENTIONS: Final = {
    "amplitude": (
        "A tenth of the open reading is taken of the sound pressure: a place passes with a drop of at least "
        "20 dB from the level through the open door."
    ),
    "displayed_number": (
        "A tenth of the open reading is taken of the number shown: a place passes with at most a tenth of "
        "the decibels shown through the open door."
    ),
}
"""The 10 % of the open-hatch value of surveyors' practice on ships' hatch covers, in both of its readings."""
