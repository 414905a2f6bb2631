"""What is known of one finding: events and losses, each with when it was true and when we knew."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from itertools import zip_longest
from typing import Final

from workorders.statements.rules.time import put_on_utc, utc


class EventKind(StrEnum):
    """What happened to a finding.

    Passed, partial and failed are verdicts on a repair. Closed is a closure by a recorded reason
    after which nothing more is lost; removed means that the asset or branch went out of service.
    """

    FOUND = "found"
    REPAIRED = "repaired"
    PASSED = "passed"
    PARTIAL = "partial"
    FAILED = "failed"
    CLOSED = "closed"
    REMOVED = "removed"
    REOPENED = "reopened"
    DEFERRED = "deferred"
    DEFERRAL_ENDED = "deferral_ended"
    DISMISSED = "dismissed"
    REINSTATED = "reinstated"
    MERGED = "merged"
    SEPARATED = "separated"


VERDICTS: Final = frozenset({EventKind.PASSED, EventKind.PARTIAL, EventKind.FAILED})


class State(StrEnum):
    """Where a finding stood at a moment, as the counts need it."""

    OPEN = "open"
    DEFERRED = "deferred"
    REPAIRED = "repaired"
    CLOSED = "closed"
    CLOSED_BY_REASON = "closed_by_reason"
    REMOVED = "removed"
    DISMISSED = "dismissed"
    MERGED = "merged"


OPEN_STATES: Final = frozenset({State.OPEN, State.DEFERRED, State.REPAIRED})
UNCOUNTED: Final = frozenset({State.DISMISSED, State.MERGED})

_FROM_OPEN: Final = {
    EventKind.REPAIRED: State.REPAIRED,
    EventKind.PASSED: State.CLOSED,
    EventKind.PARTIAL: State.OPEN,
    EventKind.FAILED: State.OPEN,
    EventKind.CLOSED: State.CLOSED_BY_REASON,
    EventKind.REMOVED: State.REMOVED,
    EventKind.DISMISSED: State.DISMISSED,
    EventKind.MERGED: State.MERGED,
}


@dataclass(frozen=True, slots=True)
class Event:
    """One event: true at `at`, known from `recorded_at` on.

    A verdict names its repair by the time of the repair; a repair names the day its check is due.
    `void_at` is when it was taken back.
    """

    kind: EventKind
    at: datetime
    recorded_at: datetime
    repaired_at: datetime | None = None
    check_due_at: datetime | None = None
    void_at: datetime | None = None

    def __post_init__(self) -> None:
        """Put every moment on UTC."""
        put_on_utc(self, "at", "recorded_at", "repaired_at", "check_due_at", "void_at")


@dataclass(frozen=True, slots=True)
class LossFact:
    """A stretch of time at one leak rate, in m³/s at 1 bar, 20 °C, dry; `ended_at` None: still running.

    `end_recorded_at` is when the end became known, `void_at` when the whole row was superseded.
    Low and high are the 95 % interval of the rate, where it has one.
    """

    system: str
    rate_m3_per_s: Decimal
    started_at: datetime
    recorded_at: datetime
    ended_at: datetime | None = None
    end_recorded_at: datetime | None = None
    void_at: datetime | None = None
    low_m3_per_s: Decimal | None = None
    high_m3_per_s: Decimal | None = None

    def __post_init__(self) -> None:
        """Put every moment on UTC; refuse a rate below zero or no number, and an end before the start."""
        put_on_utc(self, "started_at", "recorded_at", "ended_at", "end_recorded_at", "void_at")
        if not (self.rate_m3_per_s.is_finite() and self.rate_m3_per_s >= 0):
            msg = f"A leak rate is a number not below zero, not {self.rate_m3_per_s}."
            raise ValueError(msg)
        if self.ended_at is not None and self.ended_at < self.started_at:
            msg = "A loss cannot end before it starts."
            raise ValueError(msg)


@dataclass(frozen=True, slots=True)
class FindingHistory:
    """All that a statement needs of one finding; a query fills it.

    `due_at` is when its repair was due, `extended_due_at` the same with approved deferrals added.
    `watched_from` is when a finding that came with an import began to be followed here (None: when found).
    """

    finding_id: str
    label: str
    events: tuple[Event, ...]
    losses: tuple[LossFact, ...] = ()
    area: str = ""
    due_at: datetime | None = None
    extended_due_at: datetime | None = None
    watched_from: datetime | None = None

    def __post_init__(self) -> None:
        """Put every moment on UTC."""
        put_on_utc(self, "due_at", "extended_due_at", "watched_from")


@dataclass(frozen=True, slots=True)
class Step:
    """An event with the state before it (None: not yet found) and after it."""

    event: Event
    before: State | None
    after: State


@dataclass(frozen=True, slots=True)
class Repair:
    """A repair and the last verdict on it that was known (None: not checked yet)."""

    repaired_at: datetime
    verdict: EventKind | None
    first_verdict: EventKind | None
    rate_before_m3_per_s: Decimal
    rate_after_m3_per_s: Decimal
    system: str | None
    check_due_at: datetime | None

    @property
    def drop_m3_per_s(self) -> Decimal:
        """Give what the repair took away; never below zero."""
        return max(self.rate_before_m3_per_s - self.rate_after_m3_per_s, Decimal(0))


class KnownFinding:
    """One finding as it was known at a moment: only facts recorded by then count."""

    def __init__(self, history: FindingHistory, as_of: datetime) -> None:
        as_of = utc(as_of)
        self.history = history
        self.as_of = as_of
        events = [event for event in history.events if is_known(event, as_of)]
        events.sort(key=lambda event: (event.at, event.recorded_at))
        self.steps = _walk(events)
        self.losses = _live(history.losses, as_of)

    @property
    def found_at(self) -> datetime | None:
        """Give when it was first read, or None when it was not known yet."""
        return self.steps[0].event.at if self.steps else None

    @property
    def is_counted(self) -> bool:
        """Say whether it counts at all: known, and by now neither dismissed nor merged."""
        return bool(self.steps) and self.steps[-1].after not in UNCOUNTED

    def state_at(self, moment: datetime) -> State | None:
        """Give the state just before a moment: an event at the very edge belongs to what follows."""
        state = None
        for step in self.steps:
            if step.event.at >= moment:
                break
            state = step.after
        return state

    def steps_in(self, window: tuple[datetime, datetime]) -> tuple[Step, ...]:
        """List the steps from the first instant of a window to the last before its end."""
        return tuple(step for step in self.steps if window[0] <= step.event.at < window[1])

    def rate_at(self, moment: datetime) -> LossFact | None:
        """Give the loss that runs at a moment, its first instant included and its last not."""
        return next(
            (
                loss
                for loss in self.losses
                if loss.started_at <= moment and (loss.ended_at is None or moment < loss.ended_at)
            ),
            None,
        )

    def rate_before(self, moment: datetime) -> LossFact | None:
        """Give the loss that ran until a moment."""
        return next(
            (
                loss
                for loss in self.losses
                if loss.started_at < moment and (loss.ended_at is None or moment <= loss.ended_at)
            ),
            None,
        )

    @cached_property
    def repairs(self) -> tuple[Repair, ...]:
        """List its repairs in order, each with what it took away and how it was judged."""
        found = []
        done = [step.event for step in self.steps if step.event.kind is EventKind.REPAIRED]
        for event, later in zip_longest(done, done[1:]):
            repaired_at = event.at
            following = later.at if later else None
            verdicts = self._verdicts_on(repaired_at, following)
            before, after = self.rate_before(repaired_at), self.rate_at(repaired_at)
            found.append(
                Repair(
                    repaired_at,
                    verdicts[-1] if verdicts else None,
                    verdicts[0] if verdicts else None,
                    before.rate_m3_per_s if before else Decimal(0),
                    after.rate_m3_per_s if after else Decimal(0),
                    before.system if before else None,
                    event.check_due_at,
                )
            )
        return tuple(found)

    def _verdicts_on(self, repaired_at: datetime, following: datetime | None) -> list[EventKind]:
        found = []
        for step in self.steps:
            event = step.event
            if event.kind not in VERDICTS:
                continue
            if event.repaired_at is not None:
                belongs = event.repaired_at == repaired_at
            else:
                belongs = repaired_at <= event.at and (following is None or event.at < following)
            if belongs:
                found.append(event.kind)
        return found

    def first_after(self, kind: EventKind, moment: datetime) -> datetime | None:
        """Give when an event of a kind first happened after a moment."""
        return next(
            (step.event.at for step in self.steps if step.event.kind is kind and step.event.at > moment), None
        )

    @cached_property
    def deferred_spans(self) -> tuple[tuple[datetime, datetime | None], ...]:
        """List the stretches of time during which an approved deferral let it wait (None: still does)."""
        ends = [step.event.at for step in self.steps[1:]]
        return tuple(
            (step.event.at, end)
            for step, end in zip_longest(self.steps, ends)
            if step.after is State.DEFERRED
        )

    def deferred_until(self, moment: datetime) -> timedelta:
        """Add up the approved deferral up to a moment."""
        began = [span for span in self.deferred_spans if span[0] < moment]
        return sum((min(end or moment, moment) - start for start, end in began), timedelta(0))


def is_known(fact: Event | LossFact, as_of: datetime) -> bool:
    """Say whether a fact was recorded by a moment and not taken back."""
    return fact.recorded_at <= as_of and (fact.void_at is None or fact.void_at > as_of)


def _live(losses: Sequence[LossFact], as_of: datetime) -> tuple[LossFact, ...]:
    found = []
    for loss in losses:
        if not is_known(loss, as_of):
            continue
        if loss.ended_at is not None and (loss.end_recorded_at or loss.recorded_at) > as_of:
            found.append(replace(loss, ended_at=None, end_recorded_at=None))
        else:
            found.append(loss)
    return tuple(sorted(found, key=lambda loss: loss.started_at))


def _walk(events: Sequence[Event]) -> tuple[Step, ...]:
    steps: list[Step] = []
    state: State | None = None
    for event in events:
        after = _next_state(state, event.kind)
        if after is None:
            continue
        before = state
        if state in UNCOUNTED:
            # Taken back: the time it was set aside is as if it had never been, so that counts balance.
            before = steps.pop().before
        steps.append(Step(event, before, after))
        state = after
    return tuple(steps)


def _next_state(state: State | None, kind: EventKind) -> State | None:
    """Give the state an event leads to; None where the event changes nothing (a second "found", say)."""
    if state is None:
        return State.OPEN if kind is EventKind.FOUND else None
    if kind in {EventKind.REINSTATED, EventKind.SEPARATED}:
        return State.OPEN if state in UNCOUNTED else None
    if kind is EventKind.REOPENED:
        return State.OPEN if state not in OPEN_STATES | UNCOUNTED else None
    if kind is EventKind.REMOVED and state not in OPEN_STATES | UNCOUNTED:
        return state
    if state not in OPEN_STATES:
        return None
    if kind is EventKind.DEFERRED:
        return State.DEFERRED
    if kind is EventKind.DEFERRAL_ENDED:
        return State.OPEN if state is State.DEFERRED else None
    return _FROM_OPEN.get(kind)
