"""Doors of the orders room."""

from workorders.orders.api.clocks import PauseRule, PauseRules, WorkOrderClocks
from workorders.orders.api.levels import ServiceLevel, ServiceLevels
from workorders.orders.api.orders import WorkOrder, WorkOrderMoves, WorkOrderPriority, WorkOrders

__all__ = [
    "PauseRule",
    "PauseRules",
    "ServiceLevel",
    "ServiceLevels",
    "WorkOrder",
    "WorkOrderClocks",
    "WorkOrderMoves",
    "WorkOrderPriority",
    "WorkOrders",
]
