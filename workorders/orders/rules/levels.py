"""Service levels: how long each step of an order may take, and when it is due by the site's own clock."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from types import MappingProxyType
from typing import Final
from zoneinfo import ZoneInfo

from workorders.calendars.rules import NoWorkingTime, WorkingCalendar, add_working_time, working_between
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

    Minutes and hours elapse, day and night; days end at the same time of day by the site's clock; working
    minutes pass only while the site works.
    """

    MINUTES = "minutes"
    HOURS = "hours"
    DAYS = "days"
    WORKING_MINUTES = "working_minutes"


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

    @property
    def hours(self) -> Decimal:
        """Give the length in hours of its own kind, to compare two of one kind."""
        each = {Unit.HOURS: Decimal(1), Unit.DAYS: Decimal(24)}
        return self.amount * each[self.unit] if self.unit in each else Decimal(self.amount) / 60

    def elapsing(self) -> "Span":
        """Return the same length running day and night: what is working time ends no later so."""
        return Span(self.amount, Unit.MINUTES) if self.unit is Unit.WORKING_MINUTES else self


_LONGEST: Final = {
    Unit.MINUTES: 5_256_000,
    Unit.HOURS: 87_600,
    Unit.DAYS: 3_650,
    Unit.WORKING_MINUTES: 1_000_000,
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
            # Two working days of eight hours.
            acknowledge=Span(16 * 60, Unit.WORKING_MINUTES),
            make_safe=None,
            first_attempt=Span(14, Unit.DAYS),
            repair=Span(30, Unit.DAYS),
            verify=Span(14, Unit.DAYS),
        ),
        PriorityClass.P4: Level(
            acknowledge=Span(40 * 60, Unit.WORKING_MINUTES),
            make_safe=None,
            first_attempt=None,
            repair=Span(90, Unit.DAYS),
            verify=Span(30, Unit.DAYS),
            repair_by_shutdown=True,
        ),
    }
)
"""Where a site starts. First attempt within 5 days and repair within 15 are the figures of 40 CFR
60.482-7(d) and 61.242-7(d) for regulated leaks; that a danger is met at once is common practice; the rest is
our judgement. All of it is the site's to change, for hazards to the shorter only."""

TIGHTER_ONLY: Final = frozenset({PriorityClass.P1, PriorityClass.P2})
"""The classes that hazards set: a site shortens their times, it never lengthens them."""


@dataclass(frozen=True, slots=True)
class Times:
    """A site's own figures for one class: the first answer, the repair, the check of the repair."""

    respond: Span
    repair: Span
    verify: Span


DEFAULT_TIMES: Final[Mapping[PriorityClass, Times]] = MappingProxyType(
    {
        priority: Times(level.acknowledge or level.repair, level.repair, level.verify)
        for priority, level in DEFAULT_LEVELS.items()
    }
)
"""The default levels in the figures that a site keeps and changes."""


def faults_of(priority: PriorityClass, times: Times) -> tuple[tuple[str, str], ...]:
    """Name what a site's figures may not say, as (clock, sentence); nothing for good ones."""
    faults = []
    if times.repair.amount <= 0:
        faults.append(("repair", "A repair takes some time."))
    if priority in TIGHTER_ONLY and not faults:
        default = DEFAULT_TIMES[priority]
        text = f"{priority} holds hazards: its times may be shortened from the default, not lengthened."
        by_night = f"{priority} holds hazards: its times run day and night, not in working hours."
        for name in ("respond", "repair", "verify"):
            span: Span = getattr(times, name)
            if span.unit is Unit.WORKING_MINUTES:
                faults.append((name, by_night))
            elif span.hours > getattr(default, name).hours:
                faults.append((name, text))
    return tuple(faults)


def level_of(priority: PriorityClass, times: Times, *, is_safety: bool = False) -> Level:
    """Turn a site's figures into the class's clocks; what a site does not set stays the default's.

    For a safety order all of them run day and night, whatever the class.
    """
    default = DEFAULT_LEVELS[priority]
    spans = (times.respond, times.repair, times.verify)
    respond, repair, verify = (span.elapsing() if is_safety else span for span in spans)
    return Level(
        acknowledge=respond,
        make_safe=default.make_safe,
        first_attempt=default.first_attempt,
        repair=repair,
        verify=verify,
        repair_by_shutdown=default.repair_by_shutdown,
    )


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


def add_span(start: datetime, span: Span, calendar: WorkingCalendar) -> datetime:
    """Add a length of time to an aware moment; the answer is in UTC.

    Days keep the time of day on the site's clock across a clock change; a time of day that the day
    lacks is read an hour later, one that it has twice is its first. Where a calendar has no work for ten
    years, working time elapses: an empty calendar lengthens no promise.
    """
    if span.unit is Unit.DAYS:
        return _on_local_day(start, calendar.zone, timedelta(days=span.amount))
    length = timedelta(minutes=span.amount * (60 if span.unit is Unit.HOURS else 1))
    if span.unit is Unit.WORKING_MINUTES:
        return _after_work(start, length, calendar)
    return start.astimezone(UTC) + length


def _after_work(start: datetime, length: timedelta, calendar: WorkingCalendar) -> datetime:
    try:
        return add_working_time(calendar, start, length)
    except NoWorkingTime:
        return start.astimezone(UTC) + length


def _on_local_day(start: datetime, zone: ZoneInfo, step: timedelta) -> datetime:
    wall = start.astimezone(zone).replace(tzinfo=None) + step
    return wall.replace(tzinfo=zone, fold=0).astimezone(UTC)


def due_at(
    level: Level,
    clock: Clock,
    started_at: datetime,
    calendar: WorkingCalendar,
    *,
    next_shutdown_at: datetime | None = None,
) -> datetime | None:
    """Say when one clock runs out, or None when the class has no such clock.

    Where the class lets a repair wait for a shutdown, a planned one that comes earlier than the time
    allowed is the due time: waiting past it would miss the chance.
    """
    span = level.span(clock)
    if span is None:
        return None
    due = add_span(started_at, span, calendar)
    if (
        clock is Clock.REPAIR
        and level.repair_by_shutdown
        and next_shutdown_at is not None
        and started_at < next_shutdown_at < due
    ):
        due = next_shutdown_at.astimezone(UTC)
    return due


def put_off(due: datetime, pause: Pause, unit: Unit, calendar: WorkingCalendar) -> datetime:
    """Return the due time of a clock after a pause that has ended: what was left then is left still.

    In UTC, and never earlier. A pause that begins when the clock has run out heals nothing.
    """
    due = due.astimezone(UTC)
    if pause.end is None or pause.start >= due or pause.end <= pause.start:
        return due
    if unit is Unit.WORKING_MINUTES:
        left = working_between(calendar, pause.start, due)
        return max(due, _after_work(pause.end, left, calendar))
    if unit is Unit.DAYS:
        return _on_local_day(due, calendar.zone, _wall_length(pause.start, pause.end, calendar.zone))
    return due + (pause.end - pause.start)


def measured(start: datetime, end: datetime, unit: Unit, calendar: WorkingCalendar) -> timedelta:
    """Return how much a clock of this unit counts from one moment to a later one."""
    if unit is Unit.WORKING_MINUTES:
        return working_between(calendar, start, end)
    return max(end.astimezone(UTC) - start.astimezone(UTC), timedelta(0))


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
