"""The rules of clocks: service levels, due times, pauses and escalation."""

from workorders.clocks.rules.due import (
    DEFAULT_LEVELS,
    EVERY_WEEKDAY,
    Clock,
    Pause,
    ServiceLevel,
    Span,
    Unit,
    WorkingCalendar,
    add_span,
    due_at,
    extend,
    is_paused,
)
from workorders.clocks.rules.escalation import DEFAULT_STEPS, EscalationStep, escalation_step

__all__ = [
    "DEFAULT_LEVELS",
    "DEFAULT_STEPS",
    "EVERY_WEEKDAY",
    "Clock",
    "EscalationStep",
    "Pause",
    "ServiceLevel",
    "Span",
    "Unit",
    "WorkingCalendar",
    "add_span",
    "due_at",
    "escalation_step",
    "extend",
    "is_paused",
]
