"""The file of a calendar, read back by the library that reads such files."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from workorders.feeds.files import calendar_file
from workorders.feeds.rules import CalendarItem, clean, one_line

AT = datetime(2026, 3, 2, 8, tzinfo=UTC)
HOSTILE = [
    "Seal; valve, tap \\ hose",
    "Line one\r\nEND:VEVENT\r\nBEGIN:VEVENT",
    "a" * 300,
    "Dichtung für Kühlung – größer als Ø 12 µm " * 6,
    "🔧" * 60,
    '"quoted":=;,\\n not a newline',
    "tab\tand\x00nul\x1b[0m",
]


def item(**values: object) -> CalendarItem:
    given_ = {"uid": "due-1", "sequence": 3, "revised_at": AT, "summary": "W-1", "at": AT, **values}
    return CalendarItem(**given_)  # type: ignore[arg-type]


def lines(*items: CalendarItem) -> list[bytes]:
    return calendar_file("TBW1 mine", items).split(b"\r\n")


def read(*items: CalendarItem) -> list[object]:
    return list(Calendar.from_ical(calendar_file("TBW1 mine", items)).walk("VEVENT"))


class TestTimes:
    def test_a_moment_is_written_in_utc(self) -> None:
        at = datetime(2026, 3, 29, 3, 30, tzinfo=ZoneInfo("Europe/Berlin"))

        assert b"DTSTART:20260329T013000Z" in lines(item(at=at))

    @pytest.mark.parametrize(("fold", "hour"), [(0, 0), (1, 1)])
    def test_an_hour_that_comes_twice_is_told_apart(self, fold: int, hour: int) -> None:
        at = datetime(2026, 10, 25, 2, 30, tzinfo=ZoneInfo("Europe/Berlin"), fold=fold)

        assert f"DTSTART:20261025T{hour:02d}3000Z".encode() in lines(item(at=at))

    def test_an_odd_offset_is_turned_into_utc(self) -> None:
        at = datetime(2026, 3, 2, 8, tzinfo=timezone(timedelta(hours=12, minutes=45)))

        assert b"DTSTART:20260301T191500Z" in lines(item(at=at))

    def test_a_day_ends_on_the_day_after(self) -> None:
        found = lines(item(at=None, on=date(2026, 12, 31)))

        assert b"DTSTART;VALUE=DATE:20261231" in found
        assert b"DTEND;VALUE=DATE:20270101" in found

    def test_no_zone_is_needed(self) -> None:
        assert b"VTIMEZONE" not in calendar_file("x", [item()])


class TestMarks:
    def test_what_is_off_is_cancelled_and_takes_no_time(self) -> None:
        found = lines(item(busy=True, cancelled=True))

        assert b"STATUS:CANCELLED" in found
        assert b"TRANSP:TRANSPARENT" in found

    def test_work_takes_time_and_a_promise_does_not(self) -> None:
        assert b"TRANSP:OPAQUE" in lines(item(busy=True))
        assert b"TRANSP:TRANSPARENT" in lines(item())

    def test_the_sequence_is_told(self) -> None:
        assert b"SEQUENCE:3" in lines(item())

    def test_the_same_items_make_the_same_bytes_in_any_order(self) -> None:
        items = [item(uid="b"), item(uid="a")]

        assert calendar_file("x", items) == calendar_file("x", items[::-1])


class TestHostileTexts:
    @pytest.mark.parametrize("text", HOSTILE)
    def test_are_read_back_as_they_were(self, text: str) -> None:
        [event] = read(item(summary=text, description=text, location=text))

        assert str(event["summary"]) == one_line(text)  # type: ignore[index]
        assert str(event["description"]) == clean(text)  # type: ignore[index]

    @pytest.mark.parametrize("text", HOSTILE)
    def test_make_no_line_longer_than_75_octets(self, text: str) -> None:
        # RFC 5545 section 3.1: lines of text should not be longer, excluding the line break.
        found = lines(item(summary=text, description=text))

        assert max(len(line) for line in found) <= 75

    @pytest.mark.parametrize("text", HOSTILE)
    def test_are_folded_between_characters(self, text: str) -> None:
        for line in lines(item(summary=text)):
            line.decode("utf-8")

    @given(st.text(max_size=200))
    def test_of_any_kind_never_make_a_second_event(self, text: str) -> None:
        assert len(read(item(summary=text or "x", description=text, location=text))) == 1
