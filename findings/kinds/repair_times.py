"""Published repair times that a site may take as a starting point for its own clocks."""

from typing import NamedTuple


class PublishedRepairTime(NamedTuple):
    """Calendar days from detection to the first attempt and to the finished repair, with the source."""

    first_attempt_days: int
    repair_days: int
    source: str


EQUIPMENT_LEAK = PublishedRepairTime(5, 15, "40 CFR 265.1058 and 40 CFR 61.242-8")
"""Leaks of covered equipment in the United States; compressed air has no legal clock."""
