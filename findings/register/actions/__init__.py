"""Everything that may be done to findings, one transaction and one logbook entry per act."""

from findings.register.actions.guards import (
    ClosedWithoutProof,
    ClosingReadingNotAfterRepair,
    FindingUnknown,
    MomentOutOfBounds,
    OpenAtSpot,
    StatusChangeNotAllowed,
)
from findings.register.actions.repairs import (
    ReadingUnknown,
    ReasonNotWritten,
    ResidualOutOfRange,
    close_by_reading,
    close_by_reason,
    reject_repair,
    report_repaired,
)

__all__ = [
    "ClosedWithoutProof",
    "ClosingReadingNotAfterRepair",
    "FindingUnknown",
    "MomentOutOfBounds",
    "OpenAtSpot",
    "ReadingUnknown",
    "ReasonNotWritten",
    "ResidualOutOfRange",
    "StatusChangeNotAllowed",
    "close_by_reading",
    "close_by_reason",
    "reject_repair",
    "report_repaired",
]
