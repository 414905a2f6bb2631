"""What is said of an enclosure with electrical equipment."""

from enum import StrEnum
from typing import Final

HIGHEST_V: Final = 2_000_000.0
MAINS_HZ: Final = (50, 60)


class Enclosure(StrEnum):
    """What stands around the live parts."""

    SWITCHGEAR = "switchgear"
    MOTOR_CONTROL = "motor_control"
    CABINET = "cabinet"
    BUSBAR_TRUNKING = "busbar_trunking"
    TERMINAL_BOX = "terminal_box"
    TRANSFORMER_HOUSING = "transformer_housing"
    OTHER = "other"


def usual_mains_hz(unit_system: str) -> int:
    """Return the mains frequency to expect where a panel states none: 60 Hz with US units, else 50.

    Common practice and only a guess: some countries have both, so a panel may state its own.
    """
    return 60 if unit_system == "us" else 50
