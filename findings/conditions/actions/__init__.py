"""Every act on conditions and on what a judgement of wear takes."""

from findings.conditions.actions.conditions import OverruledAlready, keep
from findings.conditions.actions.greasings import (
    GreasingKnown,
    GreasingVoid,
    record_greasing,
    void_greasing,
)
from findings.conditions.actions.ladders import LadderDated, LadderVoid, set_ladder, void_ladder
from findings.conditions.actions.points import (
    GoodStateDated,
    GoodStateVoid,
    ParticularsDated,
    ParticularsVoid,
    confirm_good,
    say_particulars,
    void_good_state,
    void_particulars,
)

__all__ = [
    "GoodStateDated",
    "GoodStateVoid",
    "GreasingKnown",
    "GreasingVoid",
    "LadderDated",
    "LadderVoid",
    "OverruledAlready",
    "ParticularsDated",
    "ParticularsVoid",
    "confirm_good",
    "keep",
    "record_greasing",
    "say_particulars",
    "set_ladder",
    "void_good_state",
    "void_greasing",
    "void_ladder",
    "void_particulars",
]
