"""Every act on routes and visits."""

from findings.routes.actions.routes import add_route, change_route, set_stops
from findings.routes.actions.visits import (
    VisitSettled,
    change_visit,
    drop_visit,
    request_visit,
    visit_done,
)

__all__ = [
    "VisitSettled",
    "add_route",
    "change_route",
    "change_visit",
    "drop_visit",
    "request_visit",
    "set_stops",
    "visit_done",
]
