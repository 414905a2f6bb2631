"""The rules of clocks: escalation."""

from workorders.clocks.rules.escalation import DEFAULT_STEPS, EscalationStep, escalation_step

__all__ = ["DEFAULT_STEPS", "EscalationStep", "escalation_step"]
