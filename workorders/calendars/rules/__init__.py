"""The rules of working calendars: shifts, holidays, the days of a site, and working time."""

from workorders.calendars.rules.calendar import (
    ASSUMED_WEEK,
    LONGEST_SPAN_DAYS,
    DayKind,
    DayStanding,
    SiteDays,
    Week,
    WorkingCalendar,
)
from workorders.calendars.rules.public_holidays import (
    HolidaysUnknown,
    check_country,
    holidays_of,
    is_estimated,
    last_year,
    told_source,
)
from workorders.calendars.rules.shifts import (
    MOST_SHIFTS,
    Shift,
    ShiftWrong,
    merged,
    plain_shift,
    shift_of,
    shifts_of,
)
from workorders.calendars.rules.working_time import (
    NoWorkingTime,
    add_working_time,
    next_working_moment,
    working_between,
)

__all__ = [
    "ASSUMED_WEEK",
    "LONGEST_SPAN_DAYS",
    "MOST_SHIFTS",
    "DayKind",
    "DayStanding",
    "HolidaysUnknown",
    "NoWorkingTime",
    "Shift",
    "ShiftWrong",
    "SiteDays",
    "Week",
    "WorkingCalendar",
    "add_working_time",
    "check_country",
    "holidays_of",
    "is_estimated",
    "last_year",
    "merged",
    "next_working_moment",
    "plain_shift",
    "shift_of",
    "shifts_of",
    "told_source",
    "working_between",
]
