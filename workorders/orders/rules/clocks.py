"""The clocks of an order: how much of a promised time is used, when it runs out, and by how much it did."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import ROUND_FLOOR, Decimal
from enum import StrEnum
from typing import Final

from workorders.calendars.rules import WorkingCalendar
from workorders.orders.rules.levels import Clock, Pause, Unit, measured, put_off

SHARE_STEP: Final = Decimal("0.0001")


class ClockState(StrEnum):
    """How a clock stands. What was met or stopped no longer runs, late or not."""

    RUNNING = "running"
    PAUSED = "paused"
    MET = "met"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class Stop:
    """A stretch in which a clock stands still, and why. `end` None: it goes on.

    `until`: it counts no further than this, even when it goes on.
    """

    start: datetime
    end: datetime | None
    why: str
    by: str = ""
    until: datetime | None = None

    def by_then(self, at: datetime) -> Pause:
        """Return what of it lies before a moment."""
        ends = [one for one in (self.end, self.until, at) if one is not None]
        return Pause(self.start, max(self.start, min(one.astimezone(UTC) for one in ends)))


@dataclass(frozen=True, slots=True)
class Promise:
    """One promised time as it is kept: `due_at` holds the waits that have ended, not the deferrals.

    `amount` None: promised before units were kept, so that only its due time is known.
    """

    clock: Clock
    unit: Unit
    amount: int | None
    started_at: datetime
    due_at: datetime
    met_at: datetime | None = None
    stopped_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class ClockReading:
    """A clock as it stands at a moment. Used and allowed are in the clock's own time: working or elapsed."""

    clock: Clock
    unit: Unit
    amount: int | None
    state: ClockState
    started_at: datetime
    due_at: datetime
    used: timedelta
    allowed: timedelta
    share: Decimal
    met_at: datetime | None = None
    paused_since: datetime | None = None
    paused_why: str = ""
    paused_by: str = ""
    breached_at: datetime | None = None
    late: timedelta = timedelta(0)


def read_clock(
    promise: Promise,
    waits: Sequence[Stop],
    deferrals: Sequence[Stop],
    at: datetime,
    calendar: WorkingCalendar,
) -> ClockReading:
    """Read a clock at a moment; the one place where the used share of a promised time is worked out.

    The share reaches 1 at the due time, neither before nor after it. A stop that begins when the time has
    run out heals nothing, so that what was breached stays breached at every later moment.
    """
    ends = [one for one in (promise.met_at, promise.stopped_at, at) if one is not None]
    end = max(promise.started_at, min(ends)).astimezone(UTC)
    due = promise.due_at.astimezone(UTC)
    for stop in (*without(deferrals, waits, end), *(wait.by_then(end) for wait in waits if wait.end is None)):
        due = put_off(due, stop, promise.unit, calendar)
    counted = [stop for stop in (*waits, *deferrals) if stop.start < due and stop.start <= end]
    # A stop that goes on has moved the due time by what of it lies before now, no further.
    stopped = [stop.by_then(end) for stop in counted]
    used = _counted(promise, stopped, end, calendar)
    allowed = _counted(promise, stopped, due, calendar)
    breached = end > due
    standing = _standing(promise, counted, end, breached=breached)
    return ClockReading(
        clock=promise.clock,
        unit=promise.unit,
        amount=promise.amount,
        state=ClockState.PAUSED if standing is not None else _state(promise, at),
        started_at=promise.started_at.astimezone(UTC),
        due_at=due,
        used=used,
        allowed=allowed,
        share=_share(used, allowed, breached=breached),
        met_at=promise.met_at if promise.met_at is not None and promise.met_at <= at else None,
        paused_since=None if standing is None else standing.start.astimezone(UTC),
        paused_why="" if standing is None else standing.why,
        paused_by="" if standing is None else standing.by,
        breached_at=due if breached else None,
        late=end - due if breached else timedelta(0),
    )


def without(stops: Iterable[Stop], taken: Sequence[Stop], at: datetime) -> list[Pause]:
    """Return what of some stops lies before a moment and in none of the others, in order."""
    free: list[Pause] = []
    covered = sorted((one.by_then(at) for one in taken), key=lambda pause: pause.start)
    for piece in _joined(stop.by_then(at) for stop in stops):
        start, end = piece.start, piece.end
        for other in covered:
            if end is None or other.end is None or other.end <= start or other.start >= end:
                continue
            if other.start > start:
                free.append(Pause(start, other.start))
            start = max(start, other.end)
        if end is not None and start < end:
            free.append(Pause(start, end))
    return free


def _joined(pauses: Iterable[Pause]) -> list[Pause]:
    joined: list[Pause] = []
    for pause in sorted(pauses, key=lambda one: one.start):
        last = joined[-1].end if joined else None
        if last is not None and pause.start <= last:
            joined[-1] = Pause(joined[-1].start, max(last, pause.end or last))
        else:
            joined.append(pause)
    return joined


def _counted(promise: Promise, stops: Sequence[Pause], end: datetime, calendar: WorkingCalendar) -> timedelta:
    """Return what the clock has counted by a moment: its own time less what fell into stops."""
    total = measured(promise.started_at, end, promise.unit, calendar)
    for piece in _joined(stops):
        start, stopped = max(piece.start, promise.started_at.astimezone(UTC)), min(piece.end or end, end)
        if start < stopped:
            total -= measured(start, stopped, promise.unit, calendar)
    return max(total, timedelta(0))


def _standing(promise: Promise, stops: Sequence[Stop], end: datetime, *, breached: bool) -> Stop | None:
    """Return the stop that holds the clock at a moment, if any."""
    over = promise.met_at is not None and promise.met_at <= end
    if breached or over or (promise.stopped_at is not None and promise.stopped_at <= end):
        return None
    for stop in stops:
        goes_on = all(one is None or end < one for one in (stop.end, stop.until))
        if stop.start <= end and goes_on:
            return stop
    return None


def _state(promise: Promise, at: datetime) -> ClockState:
    if promise.met_at is not None and promise.met_at <= at:
        return ClockState.MET
    if promise.stopped_at is not None and promise.stopped_at <= at:
        return ClockState.STOPPED
    return ClockState.RUNNING


def _share(used: timedelta, allowed: timedelta, *, breached: bool) -> Decimal:
    """Return used over allowed, rounded down so that it is 1 only when all is used."""
    if allowed <= timedelta(0):
        return Decimal(1) if breached or used > timedelta(0) else Decimal(0)
    micro = timedelta(microseconds=1)
    return (Decimal(used // micro) / Decimal(allowed // micro)).quantize(SHARE_STEP, ROUND_FLOOR)
