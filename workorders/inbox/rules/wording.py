"""What a notice says: what happened, and what is to be done about it. One sentence each."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Final
from zoneinfo import ZoneInfo

from workorders.inbox.rules.kinds import NoticeKind

LONGEST: Final = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Matter:
    """What a notice is about, in words and moments; what does not apply stays empty."""

    act: str
    zone: ZoneInfo
    finding: str = ""
    place: str = ""
    order: str = ""
    title: str = ""
    reason: str = ""
    caution: str = ""
    month: str = ""
    until_at: datetime | None = None
    due_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Words:
    """The two sentences of a notice."""

    headline: str
    todo: str


def words_of(kind: NoticeKind, matter: Matter) -> Words:
    """Say what happened and what to do."""
    headline, todo = _SAID[kind](matter)
    return Words(_one_line(headline), _one_line(todo))


def _one_line(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= LONGEST else f"{line[: LONGEST - 1]}…"


def _moment(at: datetime | None, zone: ZoneInfo) -> str:
    return "" if at is None else f"{at.astimezone(zone):%-d %B %Y, %H:%M}"


def _at_place(m: Matter) -> str:
    return f"{m.finding} at {m.place}" if m.place else m.finding


def _escalated(m: Matter) -> tuple[str, str]:
    return f"{_at_place(m)}: {m.reason}", "Take it, or see that somebody does."


def _safety_found(m: Matter) -> tuple[str, str]:
    again = " again" if m.act == "finding.reopened" else ""
    what = f" {m.title}" if m.title else ""
    return f"Danger{again}: {_at_place(m)}{what}.", m.caution or "Act by the site’s own rule."


def _worsened(m: Matter) -> tuple[str, str]:
    return f"{_at_place(m)} got worse: {m.reason}", "See whether it can still wait."


def _assigned(m: Matter) -> tuple[str, str]:
    due = _moment(m.due_at, m.zone)
    return f"{m.order} is yours: {m.title}", f"Repair it by {due}." if due else "Repair it."


def _resumed(m: Matter) -> tuple[str, str]:
    return f"{m.order} waits no longer: {m.title}", "Schedule it or start."


def _repair_failed(m: Matter) -> tuple[str, str]:
    held = "held only in part" if m.act == "verification.partial" else "did not hold"
    return f"The repair of {_at_place(m)} {held}.", "Its order is open again: repair it once more."


def _deferral_asked(m: Matter) -> tuple[str, str]:
    until = _moment(m.until_at, m.zone)
    return f"{_at_place(m)}: somebody asks to let it wait until {until}. {m.reason}", "Approve or refuse it."


def _deferral_answered(m: Matter) -> tuple[str, str]:
    if m.act == "deferral.approved":
        return f"{_at_place(m)} may wait until {_moment(m.until_at, m.zone)}.", "Nothing is asked of you."
    return f"{_at_place(m)} may not wait. {m.reason}", "Have it repaired in its time."


def _deferral_ending(m: Matter) -> tuple[str, str]:
    until = _moment(m.until_at, m.zone)
    return (
        f"{_at_place(m)} may wait only until {until}.",
        "Have it repaired before, or ask again with reasons.",
    )


def _deferral_ended(m: Matter) -> tuple[str, str]:
    return f"{_at_place(m)} may wait no longer: its term is over.", "Have it repaired."


def _month_closed(m: Matter) -> tuple[str, str]:
    return f"{m.month} is closed: its figures stand.", "Read it, and say what surprises you."


_SAID: Final[Mapping[NoticeKind, Callable[[Matter], tuple[str, str]]]] = MappingProxyType(
    {
        NoticeKind.ESCALATED: _escalated,
        NoticeKind.SAFETY_FOUND: _safety_found,
        NoticeKind.WORSENED: _worsened,
        NoticeKind.ASSIGNED: _assigned,
        NoticeKind.RESUMED: _resumed,
        NoticeKind.REPAIR_FAILED: _repair_failed,
        NoticeKind.DEFERRAL_ASKED: _deferral_asked,
        NoticeKind.DEFERRAL_ANSWERED: _deferral_answered,
        NoticeKind.DEFERRAL_ENDING: _deferral_ending,
        NoticeKind.DEFERRAL_ENDED: _deferral_ended,
        NoticeKind.MONTH_CLOSED: _month_closed,
    }
)
