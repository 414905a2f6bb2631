"""Months of a site and their figures in words."""

from datetime import UTC, date, datetime

import pytest

from workorders.desk.rules.definitions import told
from workorders.desk.rules.months import bounds, last_months, month_after, month_of, read_month

BERLIN = "Europe/Berlin"


class TestMonth:
    def test_turns_at_the_sites_midnight(self) -> None:
        assert month_of(datetime(2026, 2, 28, 23, 30, tzinfo=UTC), BERLIN) == date(2026, 3, 1)

    def test_of_march_lacks_the_hour_that_the_clocks_skip(self) -> None:
        start, end = bounds(date(2026, 3, 1), BERLIN)

        assert (end - start).total_seconds() / 3600 == 743

    @pytest.mark.parametrize(("count", "expected"), [(1, date(2027, 1, 1)), (-12, date(2025, 12, 1))])
    def test_is_counted_across_years(self, count: int, expected: date) -> None:
        assert month_after(date(2026, 12, 1), count) == expected

    def test_the_last_twelve_end_with_the_present_one(self) -> None:
        months = last_months(datetime(2026, 3, 2, tzinfo=UTC), BERLIN, 12)

        assert (len(months), months[0], months[-1]) == (12, date(2025, 4, 1), date(2026, 3, 1))

    @pytest.mark.parametrize(
        "text", ["", "2026", "2026-13", "2026-00", "0000-01", "٢٠٢٦-٠١", "2026-1", "2026-01-01"]
    )
    def test_that_is_none_is_not_read(self, text: str) -> None:
        assert read_month(text) is None

    def test_is_read_from_an_address(self) -> None:
        assert read_month("2026-03") == date(2026, 3, 1)


class TestToldFigures:
    FIGURES = {
        "total": {"found": 1234, "accrued": "96.2325"},
        "rates": {
            "clearance": {"part": "4", "whole": "11", "value": 4 / 11, "low": 0.152, "high": 0.646},
            "throughput": {"part": "0", "whole": "0", "value": None},
            "cohort": None,
        },
        "time_to_repair": {"median": 23.0},
    }

    def shown(self) -> dict[str, tuple[str, str]]:
        groups = told(self.FIGURES, "EUR", "2026-03")
        return {row.label: (row.text, row.note) for _, rows in groups for row in rows}

    @pytest.mark.parametrize(
        ("label", "text", "note"),
        [
            ("Found", "1\u202f234", ""),
            ("Leak cost", "96.23\u00a0EUR", ""),
            ("Cleared", "36.4\u00a0%", "4 of 11, 95 %: 15 to 65 %"),
            ("Kept pace", "none", "nothing to divide by"),
            ("Repaired within 30 days", "not yet", ""),
            ("Median time to a verified repair", "23\u00a0days", ""),
        ],
    )
    def test_are_written_by_their_form(self, label: str, text: str, note: str) -> None:
        assert self.shown()[label] == (text, note)

    def test_leave_out_what_is_not_there(self) -> None:
        assert "Energy lost" not in self.shown()

    def test_open_the_list_behind_them(self) -> None:
        rows = [row for _, group in told(self.FIGURES, "EUR", "2026-03") for row in group]

        assert next(row.opens for row in rows if row.label == "Found") == "?status=counted&found=2026-03"
