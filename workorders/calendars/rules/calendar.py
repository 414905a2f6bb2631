"""A site's working calendar: which hours of which local day are worked, and why a day is as it is."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from typing import Final
from zoneinfo import ZoneInfo

from findings.kinds.local_hours import WEEKDAYS, Window
from workorders.calendars.rules.public_holidays import holidays_of, last_year, told_source
from workorders.calendars.rules.shifts import Shift, merged

DAY: Final = timedelta(days=1)
LONGEST_SPAN_DAYS: Final = 366


class DayKind(StrEnum):
    """What a site says of single days."""

    CLOSED = "closed"
    WORKED = "worked"
    SHUTDOWN = "shutdown"


class DayStanding(StrEnum):
    """What a day turned out to be."""

    ORDINARY = "ordinary"
    PUBLIC_HOLIDAY = "public_holiday"
    CLOSED = "closed"
    WORKED = "worked"
    SHUTDOWN = "shutdown"


@dataclass(frozen=True, slots=True)
class Week:
    """The working week from a local day on, until the next one begins.

    `known_until_on`: the last day for which the site has looked at its own days and shutdowns. None: nobody
    has recorded a week, and this one is assumed.
    """

    from_on: date
    shifts: tuple[Shift, ...]
    country: str = ""
    subdivision: str = ""
    known_until_on: date | None = None


@dataclass(frozen=True, slots=True)
class SiteDays:
    """What the site itself says of the days from first to last; a worked one may have hours of its own."""

    kind: DayKind
    first_on: date
    last_on: date
    name: str
    shifts: tuple[Shift, ...] = ()

    def holds(self, day: date) -> bool:
        """Say whether a day is one of them."""
        return self.first_on <= day <= self.last_on


ASSUMED_WEEK: Final = Week(date.min, (Shift(frozenset(WEEKDAYS[:5]), 8 * 60, 16 * 60),))
"""Monday to Friday, eight hours, no holidays: stands in where a site has recorded no week (our judgement)."""

# The site's own word stands before the law's: an exception that is worked before a shutdown, that before
# an extra day off, that before a public holiday.
_RANK: Final = (DayKind.WORKED, DayKind.SHUTDOWN, DayKind.CLOSED)


@dataclass(frozen=True)
class WorkingCalendar:
    """The weeks of a site in force one after another, and its own days."""

    zone: ZoneInfo
    weeks: tuple[Week, ...] = ()
    days: tuple[SiteDays, ...] = ()
    _windows: dict[date, tuple[Window, ...]] = field(default_factory=dict, compare=False, repr=False)

    def __post_init__(self) -> None:
        """Put the weeks in order."""
        object.__setattr__(self, "weeks", tuple(sorted(self.weeks, key=lambda week: week.from_on)))

    def week_of(self, day: date) -> Week:
        """Return the week in force on a day; before the first one the assumed week."""
        index = bisect_right([week.from_on for week in self.weeks], day)
        return self.weeks[index - 1] if index else ASSUMED_WEEK

    def said_of(self, day: date) -> SiteDays | None:
        """Return what the site says of a day; of several the one that stands before the others."""
        told = [one for one in self.days if one.holds(day)]
        return min(told, key=lambda one: _RANK.index(one.kind), default=None)

    def standing(self, day: date) -> tuple[DayStanding, str, str]:
        """Say what a day is, its name, and where that comes from."""
        told = self.said_of(day)
        week = self.week_of(day)
        holiday = holidays_of(week.country, week.subdivision, day.year).get(day)
        if told is not None:
            name = f"{told.name} ({holiday})" if holiday else told.name
            return DayStanding(told.kind.value), name, "the site's own days"
        if holiday is not None:
            return DayStanding.PUBLIC_HOLIDAY, holiday, told_source(week.country, week.subdivision)
        return DayStanding.ORDINARY, "", "the working week"

    def shifts_beginning(self, day: date) -> Sequence[Shift]:
        """Return the shifts that begin on a day."""
        told, week = self.said_of(day), self.week_of(day)
        if told is not None and told.kind is not DayKind.WORKED:
            return ()
        if told is None and day in holidays_of(week.country, week.subdivision, day.year):
            return ()
        shifts = told.shifts if told is not None and told.shifts else week.shifts
        return [shift for shift in shifts if WEEKDAYS[day.weekday()] in shift.days]

    def windows(self, day: date) -> tuple[Window, ...]:
        """Return the worked hours of a local day, those of the night shift of the day before included."""
        if day not in self._windows:
            late = [shift.window_on_the_day_after() for shift in self.shifts_beginning(day - DAY)]
            here = [shift.window_on_its_day() for shift in self.shifts_beginning(day)]
            self._windows[day] = merged([*(window for window in late if window is not None), *here])
        return self._windows[day]

    def is_attended(self, day: date) -> bool:
        """Say whether people work on a day: a shift begins on it.

        Before a week is recorded nobody has said when the site rests, so that only its own days are known.
        """
        told = self.said_of(day)
        if self.week_of(day) is ASSUMED_WEEK:
            return told is None or told.kind is DayKind.WORKED
        return bool(self.shifts_beginning(day))

    def shutdowns(self) -> list[SiteDays]:
        """Return the shutdowns that are recorded."""
        return [one for one in self.days if one.kind is DayKind.SHUTDOWN]

    def next_shutdown(self, day: date) -> SiteDays | None:
        """Return the shutdown that runs on a day, or else the next one."""
        coming = [one for one in self.shutdowns() if one.last_on >= day]
        return min(coming, key=lambda one: (one.first_on, one.last_on), default=None)

    def warnings(self, first: date, last: date) -> tuple[tuple[str, str], ...]:
        """Name what is not known of the days from first to last, as (code, sentence)."""
        found = []
        if self.week_of(first) is ASSUMED_WEEK:
            text = "No working week is recorded: Monday to Friday, 08:00 to 16:00, no holidays, is assumed."
            found.append(("week_assumed", text))
        week = self.week_of(last)
        if week.known_until_on is not None and last > week.known_until_on:
            text = f"The site's own days after {week.known_until_on} are not known: they count as ordinary."
            found.append(("days_unknown", text))
        if last.year > last_year(week.country, week.subdivision):
            text = f"Public holidays are known to {last_year(week.country, week.subdivision)} only."
            found.append(("holidays_unknown", text))
        return tuple(found)
