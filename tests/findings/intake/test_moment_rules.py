"""Dates and times as technicians type them."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from findings.intake.rules.moments import join_moment, parse_moment

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.mark.parametrize(
    ("text", "formats", "moment"),
    [
        ("2026-03-10 08:00", (), datetime(2026, 3, 10, 7, tzinfo=UTC)),
        ("2026-07-10T08:00", (), datetime(2026, 7, 10, 6, tzinfo=UTC)),
        ("2026-03-10T08:00:00-06:00", (), datetime(2026, 3, 10, 14, tzinfo=UTC)),
        ("10.03.2026 8:00", (), datetime(2026, 3, 10, 7, tzinfo=UTC)),
        ("13/03/2026 08:00", (), datetime(2026, 3, 13, 7, tzinfo=UTC)),
        ("03/04/2026 2:15 pm", ("%m/%d/%Y",), datetime(2026, 3, 4, 13, 15, tzinfo=UTC)),
    ],
)
def test_a_moment_is_put_into_the_zone(text: str, formats: tuple[str, ...], moment: datetime) -> None:
    assert parse_moment(text, formats, BERLIN).value == moment


def test_a_slashed_date_that_could_be_two_days_is_refused() -> None:
    assert "could be two days" in parse_moment("03/04/2026 08:00", (), BERLIN).error


def test_the_hour_that_summer_time_skips_is_refused() -> None:
    assert "does not exist" in parse_moment("2026-03-29 02:30", (), BERLIN).error


def test_the_hour_that_winter_time_doubles_is_doubted_and_read_as_the_first() -> None:
    moment = parse_moment("2026-10-25 02:30", (), BERLIN)

    assert moment.value == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert "happened twice" in moment.doubt


def test_a_day_without_a_time_stands_at_noon_and_says_so() -> None:
    moment = join_moment("2026-03-10", "", (), BERLIN)

    assert moment.value == datetime(2026, 3, 10, 11, tzinfo=UTC)
    assert "noon" in moment.doubt


@pytest.mark.parametrize(
    "text", ["yesterday", "0001-01-01 00:00", "9999-12-31 23:59", "31.02.2026 08:00", "2026-03-10 25:00"]
)
def test_what_is_no_plausible_moment_is_refused_in_words(text: str) -> None:
    moment = parse_moment(text, (), BERLIN)

    assert moment.value is None
    assert moment.error
