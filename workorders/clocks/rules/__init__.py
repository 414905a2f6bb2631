"""The rules of clocks: escalation."""

from workorders.clocks.rules.escalation import (
    DEFAULT_STEPS,
    TAKEN_WITH,
    EscalationStep,
    escalation_step,
    is_reached_by_share,
    reason_of,
)

__all__ = [
    "DEFAULT_STEPS",
    "TAKEN_WITH",
    "EscalationStep",
    "escalation_step",
    "is_reached_by_share",
    "reason_of",
]
