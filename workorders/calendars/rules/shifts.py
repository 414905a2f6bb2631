"""Shifts: the hours of a working week on the site's wall clock, past midnight where they go there."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NoReturn

from findings.kinds.local_hours import MINUTES_OF_A_DAY, WEEKDAYS, Window, clock, minutes_of

MOST_SHIFTS: Final = 40


class ShiftWrong(ValueError):
    """A shift that no week can have; `pointer` says where it stands."""

    def __init__(self, pointer: str, text: str) -> None:
        super().__init__(text)
        self.pointer = pointer


def _refuse(pointer: str, text: str) -> NoReturn:
    raise ShiftWrong(pointer, text)


@dataclass(frozen=True, slots=True)
class Shift:
    """Hours that begin on some weekdays ("mon" to "sun").

    In minutes of the wall clock from midnight of the day on which it begins; an end of more than 1440 lies
    on the day after. A shift belongs to the day on which it begins.
    """

    days: frozenset[str]
    start: int
    end: int

    def __post_init__(self) -> None:
        """Refuse a shift without days, without length, or longer than a day."""
        if not self.days or not self.days <= frozenset(WEEKDAYS):
            msg = f"A shift begins on days named {', '.join(WEEKDAYS)}."
            _refuse("days", msg)
        if not 0 <= self.start < MINUTES_OF_A_DAY or not 0 < self.end - self.start <= MINUTES_OF_A_DAY:
            msg = "A shift lasts longer than no time and at most a day."
            _refuse("end", msg)

    def window_on_its_day(self) -> Window:
        """Return the part that lies on the day on which it begins."""
        return Window(self.start, min(self.end, MINUTES_OF_A_DAY))

    def window_on_the_day_after(self) -> Window | None:
        """Return the part past midnight, if any."""
        past = self.end - MINUTES_OF_A_DAY
        return Window(0, past) if past > 0 else None


def shift_of(given: Mapping[str, Any]) -> Shift:
    """Return a shift from {"days", "start", "end"}; an end at or before its start lies on the next day.

    Raises ShiftWrong. The same time twice is refused, because it may mean a whole day or nothing.
    """
    start, end = minutes_of(str(given.get("start", ""))), minutes_of(str(given.get("end", "")))
    if start is None or start == MINUTES_OF_A_DAY:
        _refuse("start", 'Write a time of day like "06:00".')
    if end is None:
        _refuse("end", 'Write a time of day like "14:00", or "24:00" for the end of the day.')
    if start == end:
        _refuse("end", 'Write a whole day as "00:00" to "24:00".')
    return Shift(frozenset(given.get("days", ())), start, end if end > start else end + MINUTES_OF_A_DAY)


def plain_shift(shift: Shift) -> dict[str, Any]:
    """Return a shift as it is stored and told."""
    past = shift.end > MINUTES_OF_A_DAY
    days = [day for day in WEEKDAYS if day in shift.days]
    end = shift.end - MINUTES_OF_A_DAY if past else shift.end
    return {"days": days, "start": clock(shift.start), "end": clock(end)}


def shifts_of(given: Sequence[Mapping[str, Any]]) -> tuple[Shift, ...]:
    """Return shifts; raises ShiftWrong with the place of what cannot be, or where there are too many."""
    if len(given) > MOST_SHIFTS:
        _refuse("", f"At most {MOST_SHIFTS} shifts.")
    read = []
    for index, one in enumerate(given):
        try:
            read.append(shift_of(one))
        except ShiftWrong as wrong:
            _refuse(f"{index}/{wrong.pointer}", str(wrong))
    return tuple(read)


def merged(windows: Sequence[Window]) -> tuple[Window, ...]:
    """Return windows in order with those that touch or overlap made one: a handover is not counted twice."""
    joined: list[Window] = []
    for window in sorted(windows):
        if joined and window.start <= joined[-1].end:
            joined[-1] = Window(joined[-1].start, max(joined[-1].end, window.end))
        else:
            joined.append(window)
    return tuple(joined)
