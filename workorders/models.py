"""Index of this app's tables; nothing else stands here and nobody imports it."""

from workorders.clocks.models import Escalation
from workorders.feeds.models import CalendarFeed
from workorders.inbox.models import Mail, News, NewsMark, Notice, Preference
from workorders.orders.models import OrderCounter, OrderFinding, RepairReport, ServiceLevel, WorkOrder
from workorders.statements.models import ClosedMonth, Correction
from workorders.verification.models import Verification

__all__ = [
    "CalendarFeed",
    "ClosedMonth",
    "Correction",
    "Escalation",
    "Mail",
    "News",
    "NewsMark",
    "Notice",
    "OrderCounter",
    "OrderFinding",
    "Preference",
    "RepairReport",
    "ServiceLevel",
    "Verification",
    "WorkOrder",
]
