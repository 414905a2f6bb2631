"""A clock of an order in words."""

from datetime import timedelta
from decimal import ROUND_FLOOR, Decimal

from workorders.desk.rules.figures import time_of
from workorders.desk.rules.words import plain
from workorders.orders.rules import ClockReading, ClockState, Unit

_NAMES = {"acknowledge": "first answer", "repair": "repair", "verify": "check of the repair"}
_TENTH = Decimal("0.1")


def name_of(reading: ClockReading) -> str:
    """Return what is waited for."""
    return _NAMES.get(reading.clock.value, plain(reading.clock.value))


def clock_told(reading: ClockReading, zone: str) -> str:
    """Tell how a clock stands: "12 of 40 working hours used, paused since 3 March, 09:00: parts".

    Of a time that is more than used up only its length is told; how late it is stands beside it.
    """
    used, allowed, unit = _counted(reading)
    over = reading.used > reading.allowed
    parts = [f"{allowed} {unit}, all used" if over else f"{used} of {allowed} {unit} used"]
    if reading.met_at is not None:
        parts.append(f"done {time_of(reading.met_at, zone)}")
    elif reading.state is ClockState.STOPPED:
        parts.append("no longer running")
    elif reading.state is ClockState.PAUSED:
        parts.append(_paused(reading, zone))
    if reading.breached_at is not None:
        parts.append(f"ran out {time_of(reading.breached_at, zone)}, {_length(reading.late)} late")
    elif reading.state is ClockState.RUNNING:
        parts.append(f"due {time_of(reading.due_at, zone)}")
    return ", ".join(parts)


def _paused(reading: ClockReading, zone: str) -> str:
    reason, _, text = reading.paused_why.partition(": ")
    waiting = f"{plain(reason)}: {text}" if reason == "deferred" else f"waiting for {plain(reason)}"
    said = f" ({text})" if text and reason != "deferred" else ""
    by = f" by {reading.paused_by}" if reading.paused_by else ""
    return f"paused since {time_of(reading.paused_since, zone)}{by}, {waiting}{said}"


def _counted(reading: ClockReading) -> tuple[str, str, str]:
    """Return used and allowed in a unit that both read well in, rounded down."""
    working = "working " if reading.unit is Unit.WORKING_MINUTES else ""
    if not working and reading.allowed >= timedelta(days=2):
        each, unit = timedelta(days=1), "days"
    elif reading.allowed >= timedelta(hours=2):
        each, unit = timedelta(hours=1), "hours"
    else:
        each, unit = timedelta(minutes=1), "minutes"
    return _number(reading.used, each), _number(reading.allowed, each), working + unit


def _number(length: timedelta, each: timedelta) -> str:
    micro = timedelta(microseconds=1)
    exact = (Decimal(length // micro) / Decimal(each // micro)).quantize(_TENTH, ROUND_FLOOR)
    return f"{exact.normalize():f}"


def _length(late: timedelta) -> str:
    if late >= timedelta(days=2):
        return f"{late.days} days"
    hours = late // timedelta(hours=1)
    return f"{hours} hours" if hours >= 2 else f"{late // timedelta(minutes=1)} minutes"
