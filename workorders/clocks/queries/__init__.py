"""Read escalations; find which steps are due and not yet told, and which points are due a visit."""

from workorders.clocks.queries.climbing import Missing, missing_steps
from workorders.clocks.queries.escalations import escalations, free_steps, sites
from workorders.clocks.queries.visits import PointDue, known_origins, points_due, works_on

__all__ = [
    "Missing",
    "PointDue",
    "escalations",
    "free_steps",
    "known_origins",
    "missing_steps",
    "points_due",
    "sites",
    "works_on",
]
