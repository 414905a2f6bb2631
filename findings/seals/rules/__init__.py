"""What seams and walks along them have to be, and what a walk says."""

from findings.seals.rules.conditions import (
    LOOK_AGAIN_DAYS,
    SEVERITY_ABOVE_LIMIT,
    condition_of,
    is_fault,
    severity_of,
)
from findings.seals.rules.outlines import drawn, outline_problems
from findings.seals.rules.seams import NewSeam, range_problem, seam_problems
from findings.seals.rules.walks import (
    FUTURE_TOLERANCE,
    MOST_PLACES,
    NewPlace,
    NewWalk,
    Told,
    fingerprint,
    judged_from,
    level_problem,
    next_place_m,
    place_problems,
    result_again,
    result_of,
    told,
    worst_place,
)
from findings.seals.rules.words import CONVENTIONS, NOT_SAID, Problem, SeamForm

__all__ = [
    "CONVENTIONS",
    "FUTURE_TOLERANCE",
    "LOOK_AGAIN_DAYS",
    "MOST_PLACES",
    "NOT_SAID",
    "SEVERITY_ABOVE_LIMIT",
    "NewPlace",
    "NewSeam",
    "NewWalk",
    "Problem",
    "SeamForm",
    "Told",
    "condition_of",
    "drawn",
    "fingerprint",
    "is_fault",
    "judged_from",
    "level_problem",
    "next_place_m",
    "outline_problems",
    "place_problems",
    "range_problem",
    "result_again",
    "result_of",
    "seam_problems",
    "severity_of",
    "told",
    "worst_place",
]
