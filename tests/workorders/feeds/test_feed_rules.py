"""What a calendar's item may be, and which characters it leaves out."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workorders.feeds.rules import CalendarItem, clean, one_line

AT = datetime(2026, 3, 2, 8, tzinfo=UTC)


def item(**values: object) -> CalendarItem:
    return CalendarItem(uid="due-1", sequence=1, revised_at=AT, summary="W-1", **values)  # type: ignore[arg-type]


class TestCalendarItem:
    @pytest.mark.parametrize("values", [{}, {"at": AT, "on": date(2026, 3, 2)}])
    def test_refuses_no_time_and_two_times(self, values: dict[str, object]) -> None:
        with pytest.raises(ValueError, match="at a moment or on a day"):
            item(**values)


class TestClean:
    def test_keeps_lines_and_umlauts(self) -> None:
        assert clean("Öl prüfen\r\nVentil 12\rzu") == "Öl prüfen\nVentil 12\nzu"

    def test_leaves_out_what_steers(self) -> None:
        assert clean("a\x00b\x1b[31mc\x7fd\x85e") == "ab[31mcde"

    @given(st.text())
    def test_one_line_is_one_line(self, text: str) -> None:
        assert len(one_line(text).splitlines()) <= 1
