"""The rules of clocks: escalation."""

from workorders.clocks.rules.escalation import (
    DEFAULT_STEPS,
    GROWTH_FACTOR,
    TAKEN_HOLDS,
    TAKEN_HOLDS_DANGER,
    TAKEN_WITH,
    EscalationStep,
    escalation_step,
    is_reached_by_share,
    reason_of,
)

__all__ = [
    "DEFAULT_STEPS",
    "GROWTH_FACTOR",
    "TAKEN_HOLDS",
    "TAKEN_HOLDS_DANGER",
    "TAKEN_WITH",
    "EscalationStep",
    "escalation_step",
    "is_reached_by_share",
    "reason_of",
]
