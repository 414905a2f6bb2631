"""Judge repairs, and let findings, orders and visits follow the verdict."""

from workorders.verification.actions.judging import (
    FindingNotRepaired,
    ReadingBeforeRepair,
    ReadingElsewhere,
    VerifierIsRepairer,
    verify,
)
from workorders.verification.actions.waiting import judge_waiting

__all__ = [
    "FindingNotRepaired",
    "ReadingBeforeRepair",
    "ReadingElsewhere",
    "VerifierIsRepairer",
    "judge_waiting",
    "verify",
]
