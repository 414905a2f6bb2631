"""Read conditions, and what a judgement of wear takes."""

from findings.conditions.queries.conditions import conditions, judged_of, standing_at
from findings.conditions.queries.history import WearHistory, found_of, wear_history
from findings.conditions.queries.points import (
    bearing_particulars,
    good_states,
    greasings,
    ladder_at,
    last_greased_at,
    particulars_at,
    wear_ladders,
)
from findings.conditions.queries.wear_book import WearBook, probe_readings

__all__ = [
    "WearBook",
    "WearHistory",
    "bearing_particulars",
    "conditions",
    "found_of",
    "good_states",
    "greasings",
    "judged_of",
    "ladder_at",
    "last_greased_at",
    "particulars_at",
    "probe_readings",
    "standing_at",
    "wear_history",
    "wear_ladders",
]
