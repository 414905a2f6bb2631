"""Index of this app's tables; nothing else stands here and nobody imports it."""

from workorders.calendars.models import SiteDay, WorkingWeek
from workorders.clocks.models import Escalation
from workorders.feeds.models import CalendarFeed
from workorders.inbox.models import Mail, News, NewsMark, Notice, Preference
from workorders.orders.models import (
    ClockSegment,
    OrderCounter,
    OrderFinding,
    PauseRule,
    RepairReport,
    ServiceLevel,
    WorkOrder,
)
from workorders.statements.models import ClosedMonth, Correction
from workorders.verification.models import Verification

__all__ = [
    "CalendarFeed",
    "ClockSegment",
    "ClosedMonth",
    "Correction",
    "Escalation",
    "Mail",
    "News",
    "NewsMark",
    "Notice",
    "OrderCounter",
    "OrderFinding",
    "PauseRule",
    "Preference",
    "RepairReport",
    "ServiceLevel",
    "SiteDay",
    "Verification",
    "WorkOrder",
    "WorkingWeek",
]
