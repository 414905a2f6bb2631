"""Everything that may be done to work orders, one transaction and one logbook entry per act."""

from workorders.orders.actions.changing import change_order
from workorders.orders.actions.following import FindingsStillOpen, ReadingElsewhere, let_go
from workorders.orders.actions.guards import OrderChanged, OrderUnknown
from workorders.orders.actions.levels import (
    LevelRefused,
    LevelThere,
    LevelUnknown,
    add_level,
    change_level,
    levels_of,
    seed_levels,
)
from workorders.orders.actions.moving import EvidenceMissing, EvidenceOutOfPlace, MoveNotAllowed, move
from workorders.orders.actions.opening import (
    AssigneeUnknown,
    FindingAlreadyOrdered,
    FindingNotOpen,
    FindingsRefused,
    open_due_orders,
    open_order,
)
from workorders.orders.actions.pausing import PauseRefused, PauseRuleUnknown, change_pauses, seed_pauses
from workorders.orders.actions.ranking import (
    OrderEnded,
    PriorityReasonMissing,
    PriorityTooLow,
    change_priority,
)
from workorders.orders.actions.reporting import RepairTimeRefused
from workorders.orders.actions.settling import settle, settle_orders

__all__ = [
    "AssigneeUnknown",
    "EvidenceMissing",
    "EvidenceOutOfPlace",
    "FindingAlreadyOrdered",
    "FindingNotOpen",
    "FindingsRefused",
    "FindingsStillOpen",
    "LevelRefused",
    "LevelThere",
    "LevelUnknown",
    "MoveNotAllowed",
    "OrderChanged",
    "OrderEnded",
    "OrderUnknown",
    "PauseRefused",
    "PauseRuleUnknown",
    "PriorityReasonMissing",
    "PriorityTooLow",
    "ReadingElsewhere",
    "RepairTimeRefused",
    "add_level",
    "change_level",
    "change_order",
    "change_pauses",
    "change_priority",
    "let_go",
    "levels_of",
    "move",
    "open_due_orders",
    "open_order",
    "seed_levels",
    "seed_pauses",
    "settle",
    "settle_orders",
]
