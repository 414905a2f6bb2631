"""The rules of verification: the verdict on a repair, and when to look again."""

from workorders.verification.rules.reinspection import (
    AFTER_MACHINE_WORK_DAYS,
    CHECK_DAYS,
    ROUTINE_MONTHS,
    Due,
    Method,
    add_months,
    check_due,
    earliest,
    machine_work_due,
    persistence_due,
    routine_due,
)
from workorders.verification.rules.verdict import (
    DEFAULT_LIMITS,
    Heard,
    Judgement,
    Verdict,
    VerdictLimits,
    judge_discharge,
    judge_leak,
    judge_wear,
    may_judge,
)

__all__ = [
    "AFTER_MACHINE_WORK_DAYS",
    "CHECK_DAYS",
    "DEFAULT_LIMITS",
    "ROUTINE_MONTHS",
    "Due",
    "Heard",
    "Judgement",
    "Method",
    "Verdict",
    "VerdictLimits",
    "add_months",
    "check_due",
    "earliest",
    "judge_discharge",
    "judge_leak",
    "judge_wear",
    "machine_work_due",
    "may_judge",
    "persistence_due",
    "routine_due",
]
