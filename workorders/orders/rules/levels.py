"""Service levels: how long each step of an order may take, and when it is due by the site's own clock."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import ROUND_FLOOR, Decimal
from enum import StrEnum
from types import MappingProxyType
from typing import Final
from zoneinfo import ZoneInfo

from workorders.orders.rules.priority import PriorityClass


class Clock(StrEnum):
    """What is being waited for."""

    ACKNOWLEDGE = "acknowledge"
    MAKE_SAFE = "make_safe"
    FIRST_ATTEMPT = "first_attempt"
    REPAIR = "repair"
    VERIFY = "verify"


class Unit(StrEnum):
    """How a length of time is counted.

    Minutes and hours elapse; days end at the same time of day by the site's clock; working days
    skip days on which the site does not work.
    """

    MINUTES = "minutes"
    HOURS = "hours"
    DAYS = "days"
    WORKING_DAYS = "working_days"


@dataclass(frozen=True, slots=True)
class Span:
    """A length of time: a whole number of one unit."""

    amount: int
    unit: Unit

    def __post_init__(self) -> None:
        """Refuse a length that is negative or longer than ten years."""
        if not 0 <= self.amount <= _LONGEST[self.unit]:
            msg = f"A time of {self.amount} {self.unit} is not between 0 and ten years."
            raise ValueError(msg)


_LONGEST: Final = {
    Unit.MINUTES: 5_256_000,
    Unit.HOURS: 87_600,
    Unit.DAYS: 3_650,
    Unit.WORKING_DAYS: 3_650,
}


@dataclass(frozen=True, slots=True)
class Level:
    """The times one class allows. None: no such clock. `repair_by_shutdown`: the next one may come first.

    `verify` counts from the repair, the others from the moment the order was released.
    """

    acknowledge: Span | None
    make_safe: Span | None
    first_attempt: Span | None
    repair: Span
    verify: Span
    repair_by_shutdown: bool = False

    def span(self, clock: Clock) -> Span | None:
        """Look up one clock."""
        return {
            Clock.ACKNOWLEDGE: self.acknowledge,
            Clock.MAKE_SAFE: self.make_safe,
            Clock.FIRST_ATTEMPT: self.first_attempt,
            Clock.REPAIR: self.repair,
            Clock.VERIFY: self.verify,
        }[clock]


DEFAULT_LEVELS: Final[Mapping[PriorityClass, Level]] = MappingProxyType(
    {
        PriorityClass.P1: Level(
            acknowledge=Span(15, Unit.MINUTES),
            make_safe=Span(1, Unit.HOURS),
            first_attempt=Span(4, Unit.HOURS),
            repair=Span(24, Unit.HOURS),
            # Before return to service; a clock is needed all the same, so that it cannot be forgotten.
            verify=Span(24, Unit.HOURS),
        ),
        PriorityClass.P2: Level(
            acknowledge=Span(4, Unit.HOURS),
            make_safe=None,
            first_attempt=Span(5, Unit.DAYS),
            repair=Span(15, Unit.DAYS),
            verify=Span(7, Unit.DAYS),
        ),
        PriorityClass.P3: Level(
            acknowledge=Span(2, Unit.WORKING_DAYS),
            make_safe=None,
            first_attempt=Span(14, Unit.DAYS),
            repair=Span(30, Unit.DAYS),
            verify=Span(14, Unit.DAYS),
        ),
        PriorityClass.P4: Level(
            acknowledge=Span(5, Unit.WORKING_DAYS),
            make_safe=None,
            first_attempt=None,
            repair=Span(90, Unit.DAYS),
            verify=Span(30, Unit.DAYS),
            repair_by_shutdown=True,
        ),
    }
)
"""Where a site starts. First attempt in 5 days and repair in 15 are the figures of 40 CFR 61.242-7 for
regulated leaks; the rest is our judgement and the site's to change."""

TIGHTER_ONLY: Final = frozenset({PriorityClass.P1, PriorityClass.P2})
"""The classes that hazards set: a site shortens their times, it never lengthens them."""


@dataclass(frozen=True, slots=True)
class Times:
    """A site's own figures for one class; the repair is given in elapsed hours or in calendar days."""

    respond_hours: Decimal
    verify_days: int
    repair_hours: Decimal | None = None
    repair_days: int | None = None

    @property
    def repair_in_hours(self) -> Decimal:
        """Give the time for the repair in hours, to compare two figures."""
        return self.repair_hours if self.repair_hours is not None else Decimal(24 * (self.repair_days or 0))


DEFAULT_TIMES: Final[Mapping[PriorityClass, Times]] = MappingProxyType(
    {
        PriorityClass.P1: Times(Decimal("0.25"), 1, repair_hours=Decimal(24)),
        PriorityClass.P2: Times(Decimal(4), 7, repair_days=15),
        # Two working days are four days at most over a weekend, five are seven.
        PriorityClass.P3: Times(Decimal(96), 14, repair_days=30),
        PriorityClass.P4: Times(Decimal(168), 30, repair_days=90),
    }
)
"""The default levels in the figures that a site keeps and changes."""


def faults_of(priority: PriorityClass, times: Times) -> tuple[tuple[str, str], ...]:
    """Name what a site's figures may not say, as (field, sentence); nothing for good ones."""
    faults = []
    if (times.repair_hours is None) == (times.repair_days is None):
        faults.append(("repair_hours", "Give the time for the repair either in hours or in days."))
    elif times.repair_in_hours <= 0:
        faults.append(("repair_hours", "A repair takes some time."))
    if priority in TIGHTER_ONLY and not faults:
        default = DEFAULT_TIMES[priority]
        text = f"{priority} holds hazards: its times may be shortened from the default, not lengthened."
        if times.respond_hours > default.respond_hours:
            faults.append(("respond_hours", text))
        if times.repair_in_hours > default.repair_in_hours:
            faults.append(("repair_hours" if times.repair_days is None else "repair_days", text))
        if times.verify_days > default.verify_days:
            faults.append(("verify_days", text))
    return tuple(faults)


def level_of(priority: PriorityClass, times: Times) -> Level:
    """Turn a site's figures into the class's clocks; what a site does not set stays the default's."""
    default = DEFAULT_LEVELS[priority]
    repair = Span(times.repair_days, Unit.DAYS) if times.repair_days is not None else None
    return Level(
        acknowledge=_minutes(times.respond_hours),
        make_safe=default.make_safe,
        first_attempt=default.first_attempt,
        repair=repair or _minutes(times.repair_hours or Decimal(0)),
        verify=Span(times.verify_days, Unit.DAYS),
        repair_by_shutdown=default.repair_by_shutdown,
    )


def _minutes(hours: Decimal) -> Span:
    return Span(int((hours * 60).to_integral_value(ROUND_FLOOR)), Unit.MINUTES)


@dataclass(frozen=True, slots=True)
class WorkingCalendar:
    """The days a site works: weekdays (Monday is 0) less its holidays and shutdown days."""

    weekdays: frozenset[int] = frozenset({0, 1, 2, 3, 4})
    closed_on: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        """Refuse a week without a working day: nothing would ever be due."""
        if not self.weekdays & frozenset(range(7)):
            msg = "A site works on one day of the week at least."
            raise ValueError(msg)

    def works_on(self, day: date) -> bool:
        """Say whether the site works on a day."""
        return day.weekday() in self.weekdays and day not in self.closed_on


EVERY_WEEKDAY: Final = WorkingCalendar()


@dataclass(frozen=True, slots=True)
class Pause:
    """An approved deferral: it stops the clock, never the money. `end` None: still running."""

    start: datetime
    end: datetime | None

    def __post_init__(self) -> None:
        """Put both ends on UTC: moments of one zone would be compared by the wall clock."""
        object.__setattr__(self, "start", self.start.astimezone(UTC))
        if self.end is not None:
            object.__setattr__(self, "end", self.end.astimezone(UTC))


def add_span(
    start: datetime, span: Span, zone: ZoneInfo, calendar: WorkingCalendar = EVERY_WEEKDAY
) -> datetime:
    """Add a length of time to an aware moment; the answer is in UTC.

    Days keep the time of day on the site's clock across a clock change; a time of day that the day
    lacks is read an hour later, one that it has twice is its first.
    """
    if span.unit is Unit.MINUTES:
        return start.astimezone(UTC) + timedelta(minutes=span.amount)
    if span.unit is Unit.HOURS:
        return start.astimezone(UTC) + timedelta(hours=span.amount)
    if span.unit is Unit.DAYS:
        return _on_local_day(start, zone, timedelta(days=span.amount))
    return _on_local_day(start, zone, _working_days(start.astimezone(zone).date(), span.amount, calendar))


def _working_days(first: date, amount: int, calendar: WorkingCalendar) -> timedelta:
    day, left, tries = first, amount, 0
    while left > 0:
        day += timedelta(days=1)
        tries += 1
        if calendar.works_on(day):
            left -= 1
        elif tries > amount * 7 + 3_650:
            msg = "The calendar has no working day for ten years."
            raise ValueError(msg)
    return day - first


def _on_local_day(start: datetime, zone: ZoneInfo, step: timedelta) -> datetime:
    wall = start.astimezone(zone).replace(tzinfo=None) + step
    return wall.replace(tzinfo=zone, fold=0).astimezone(UTC)


def due_at(
    level: Level,
    clock: Clock,
    started_at: datetime,
    zone: ZoneInfo,
    *,
    calendar: WorkingCalendar = EVERY_WEEKDAY,
    pauses: Sequence[Pause] = (),
    next_shutdown_at: datetime | None = None,
) -> datetime | None:
    """Say when one clock runs out, or None when the class has no such clock.

    Where the class lets a repair wait for a shutdown, a planned one that comes earlier than the time
    allowed is the due time: waiting past it would miss the chance. Pauses are added after that.
    """
    span = level.span(clock)
    if span is None:
        return None
    due = add_span(started_at, span, zone, calendar)
    if (
        clock is Clock.REPAIR
        and level.repair_by_shutdown
        and next_shutdown_at is not None
        and started_at < next_shutdown_at < due
    ):
        due = next_shutdown_at.astimezone(UTC)
    return extend(due, pauses, zone)


def extend(due: datetime, pauses: Collection[Pause], zone: ZoneInfo) -> datetime:
    """Move a due time by every pause that began before it, keeping the site's time of day.

    A pause that begins after the clock has run out heals nothing; overlapping pauses count once; one
    that still runs counts once it has ended (until then the clock is stopped, see `is_paused`).
    """
    due = due.astimezone(UTC)
    reached: datetime | None = None
    for pause in sorted(pauses, key=lambda item: item.start):
        if pause.end is None or pause.start >= due:
            continue
        start = pause.start if reached is None else max(pause.start, reached)
        if pause.end > start:
            due = _on_local_day(due, zone, _wall_length(start, pause.end, zone))
            reached = pause.end
    return due


def _wall_length(start: datetime, end: datetime, zone: ZoneInfo) -> timedelta:
    walls = [moment.astimezone(zone).replace(tzinfo=None) for moment in (start, end)]
    return max(walls[1] - walls[0], timedelta(0))


def is_paused(pauses: Collection[Pause], now: datetime) -> bool:
    """Say whether the clock stands still; a pause that has expired no longer counts, closed or not."""
    return any(pause.start <= now and (pause.end is None or now < pause.end) for pause in pauses)
