"""When a person is written to: at once, once a day or never, and by night only of danger."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from enum import StrEnum
from typing import Final
from zoneinfo import ZoneInfo


class MailWish(StrEnum):
    """How often somebody wants to be written to."""

    OFF = "off"
    DAILY = "daily"
    AT_ONCE = "at_once"


@dataclass(frozen=True, slots=True)
class Wishes:
    """What a person chose for one site. Hours are whole hours by the site's clock, 0 to 23.

    Quiet hours run from one hour until the other, over midnight where the second is the smaller; without
    both there are none. They hold back what may wait, never what endangers somebody.
    """

    mail: MailWish = MailWish.DAILY
    digest_hour: int = 7
    quiet_from_hour: int | None = 21
    quiet_until_hour: int | None = 6


USUAL: Final = Wishes()
"""What holds for whoever chose nothing: one mail each morning, danger at once (our choice)."""

MOST_SINGLE_MAILS: Final = 3
"""More than so many at a time become one mail (our choice): a flood is read by nobody."""


def mail_from(at: datetime, zone: ZoneInfo, wishes: Wishes, *, is_safety: bool) -> datetime | None:
    """Return from when on a notice of a moment may be mailed, in UTC; None: it isn't mailed."""
    if wishes.mail is MailWish.OFF:
        return None
    if is_safety:
        return at
    if wishes.mail is MailWish.DAILY:
        return _next_at(at, zone, wishes.digest_hour)
    if is_quiet(at, zone, wishes) and wishes.quiet_until_hour is not None:
        return _next_at(at, zone, wishes.quiet_until_hour)
    return at


def is_quiet(at: datetime, zone: ZoneInfo, wishes: Wishes) -> bool:
    """Tell whether a moment lies in somebody's quiet hours."""
    start, end = wishes.quiet_from_hour, wishes.quiet_until_hour
    if start is None or end is None or start == end:
        return False
    hour = at.astimezone(zone).hour
    return start <= hour < end if start < end else hour >= start or hour < end


def _next_at(at: datetime, zone: ZoneInfo, hour: int) -> datetime:
    """Return the next moment after `at` at which the site's clocks show the hour, in UTC.

    An hour that a change of the clocks leaves out is taken as the hour after it.
    """
    today = at.astimezone(zone).date()
    days = (today + timedelta(days=ahead) for ahead in range(3))
    moments = (datetime.combine(day, time(hour), tzinfo=zone).astimezone(UTC) for day in days)
    return next(moment for moment in moments if moment > at)
