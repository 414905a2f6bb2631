"""Everything that may be done to findings, one transaction per act, every act in the logbook."""

from findings.register.actions.classifying import MediumKnown, MediumRefused, classify
from findings.register.actions.closing import close_by_reason, reopen
from findings.register.actions.correcting import CorrectionWithoutFlow
from findings.register.actions.deferring import defer, end_deferral
from findings.register.actions.guards import (
    ClosedWithoutProof,
    ClosingReadingNotAfterRepair,
    FindingUnknown,
    MomentOutOfBounds,
    OpenAtSpot,
    ReasonNotWritten,
    StatusChangeNotAllowed,
)
from findings.register.actions.judging import (
    MergeLowersSafety,
    MergeRefused,
    SurvivorUnknown,
    dismiss,
    merge,
    reinstate,
    separate,
)
from findings.register.actions.moves import FindingAct, MoveIncomplete, move, right_of
from findings.register.actions.repairs import (
    ReadingUnknown,
    ResidualOutOfRange,
    close_by_reading,
    reject_repair,
    report_repaired,
)
from findings.register.actions.taking import (
    MOST_AT_ONCE,
    ReadingsRefused,
    SurveyUnknown,
    Taken,
    TooManyReadings,
    take_reading,
    take_readings,
)
from findings.register.actions.wear import NothingToJudge, judge_again
from findings.register.actions.wear_sounds import judge_wear_recordings

__all__ = [
    "MOST_AT_ONCE",
    "ClosedWithoutProof",
    "ClosingReadingNotAfterRepair",
    "CorrectionWithoutFlow",
    "FindingAct",
    "FindingUnknown",
    "MediumKnown",
    "MediumRefused",
    "MergeLowersSafety",
    "MergeRefused",
    "MomentOutOfBounds",
    "MoveIncomplete",
    "NothingToJudge",
    "OpenAtSpot",
    "ReadingUnknown",
    "ReadingsRefused",
    "ReasonNotWritten",
    "ResidualOutOfRange",
    "StatusChangeNotAllowed",
    "SurveyUnknown",
    "SurvivorUnknown",
    "Taken",
    "TooManyReadings",
    "classify",
    "close_by_reading",
    "close_by_reason",
    "defer",
    "dismiss",
    "end_deferral",
    "judge_again",
    "judge_wear_recordings",
    "merge",
    "move",
    "reinstate",
    "reject_repair",
    "reopen",
    "report_repaired",
    "right_of",
    "separate",
    "take_reading",
    "take_readings",
]
