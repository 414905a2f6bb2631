"""Close months, and book what becomes known of them later."""

from workorders.statements.actions.booking import book_corrections
from workorders.statements.actions.closing import (
    MonthBeforeStart,
    MonthNotEnded,
    MonthUnpriced,
    close_due_months,
    close_month,
)

__all__ = [
    "MonthBeforeStart",
    "MonthNotEnded",
    "MonthUnpriced",
    "book_corrections",
    "close_due_months",
    "close_month",
]
