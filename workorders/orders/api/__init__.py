"""Doors of the orders room."""

from workorders.orders.api.levels import ServiceLevel, ServiceLevels
from workorders.orders.api.orders import WorkOrder, WorkOrderMoves, WorkOrderPriority, WorkOrders

__all__ = [
    "ServiceLevel",
    "ServiceLevels",
    "WorkOrder",
    "WorkOrderMoves",
    "WorkOrderPriority",
    "WorkOrders",
]
