"""Write a calendar as RFC 5545 has it. Moments are written in UTC, so that no zone's rules are needed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from icalendar import Calendar, Event, vDuration

from workorders.feeds.rules import CalendarItem, clean, one_line

PRODUCT = "-//Plantcare//Work orders and visits//EN"
REFRESH = timedelta(hours=1)


def calendar_file(name: str, items: Iterable[CalendarItem]) -> bytes:
    """Return the file of a calendar; the same items give the same bytes."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", one_line(name))  # RFC 7986 section 5.1
    calendar.add("x-wr-calname", one_line(name))  # what came before it, still the one that most readers know
    calendar.add("refresh-interval", vDuration(REFRESH), parameters={"VALUE": "DURATION"})
    for item in sorted(items, key=lambda one: one.uid):
        calendar.add_component(_event(item))
    return bytes(calendar.to_ical())


def _event(item: CalendarItem) -> Event:
    event = Event()
    event.add("uid", item.uid)
    event.add("sequence", item.sequence)
    event.add("dtstamp", _utc(item.revised_at))
    event.add("last-modified", _utc(item.revised_at))
    event.add("summary", one_line(item.summary))
    for name, text in (("description", clean(item.description)), ("location", one_line(item.location))):
        if text:
            event.add(name, text)
    if item.address:
        event.add("url", item.address)
    if item.at is not None:
        event.add("dtstart", _utc(item.at))
    if item.on is not None:
        event.add("dtstart", item.on)
        event.add("dtend", item.on + timedelta(days=1))  # the end is the first day after, section 3.6.1
    event.add("transp", "OPAQUE" if item.busy and not item.cancelled else "TRANSPARENT")
    event.add("status", "CANCELLED" if item.cancelled else "CONFIRMED")
    event.add("class", "PRIVATE")
    return event


def _utc(at: datetime) -> datetime:
    return at.astimezone(UTC).replace(microsecond=0)
