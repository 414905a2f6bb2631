"""What a calendar shows of the work, as plain items; how it is written stands in files."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Final

ENDED_SHOWN_FOR: Final = timedelta(days=30)
"""How long a calendar is told that something is off (our choice): one that looks rarely must hear it too."""

MOST_LIVE_FEEDS: Final = 20
"""How many live addresses one person may have at a site (our choice)."""


class FeedScope(StrEnum):
    """Whose work a calendar shows."""

    MINE = "mine"
    SITE = "site"


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarItem:
    """One thing of the calendar: at a moment (`at`) or for a whole day (`on`), never both.

    `uid` stays for ever; `sequence` only grows; `revised_at` is when the thing last changed, so that the
    same facts make the same bytes. `busy` is for what takes somebody's time.
    """

    uid: str
    sequence: int
    revised_at: datetime
    summary: str
    description: str = ""
    location: str = ""
    address: str = ""
    at: datetime | None = None
    on: date | None = None
    busy: bool = False
    cancelled: bool = False

    def __post_init__(self) -> None:
        """Refuse an item without a time, or with two."""
        if (self.at is None) == (self.on is None):
            msg = "A calendar's item stands at a moment or on a day."
            raise ValueError(msg)


def clean(text: str) -> str:
    """Return a text without the control characters that RFC 5545 section 3.3.11 does not allow.

    Line ends become one newline each; all else that steers a terminal or a parser is left out.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(one for one in lines if one in "\n\t" or unicodedata.category(one) not in ("Cc", "Cs"))


def one_line(text: str) -> str:
    """Return a text as one line, for a heading."""
    return " ".join(clean(text).split())
