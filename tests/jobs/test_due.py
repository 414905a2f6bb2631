"""A crontab read on a site's own clock: each period once, whatever the clock does."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from plantcare.jobs.due import due_slots, next_due
from plantcare.jobs.registry import Cron, Every, Job

BERLIN, CHICAGO = ZoneInfo("Europe/Berlin"), ZoneInfo("America/Chicago")


def job(minute: str = "30", hour: str = "2", *, period: str = "day", catch_up: int = 1, **cron: str) -> Job:
    schedule = Cron(minute=minute, hour=hour, **cron)
    return Job(name="j", title="J", run="x.y", schedule=schedule, period=period, catch_up=catch_up)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def periods(one: Job, zone: ZoneInfo, now: datetime) -> list[str]:
    return [slot.period for slot in due_slots(one, zone, now)]


def test_the_newest_period_is_due_from_its_moment_on() -> None:
    assert periods(job(), BERLIN, at("2026-06-02T00:29:59Z")) == ["2026-06-01"]
    assert periods(job(), BERLIN, at("2026-06-02T00:30:00Z")) == ["2026-06-02"]


def test_a_day_is_the_sites_own() -> None:
    [slot] = due_slots(job(), CHICAGO, at("2026-06-02T06:00:00Z"))

    assert slot == ("2026-06-01", at("2026-06-01T07:30:00Z"))


def test_as_many_missed_periods_as_declared_are_made_good_the_oldest_first() -> None:
    found = periods(job(catch_up=3), BERLIN, at("2026-06-09T12:00:00Z"))

    assert found == ["2026-06-07", "2026-06-08", "2026-06-09"]


def test_a_period_that_is_not_made_good_is_due_for_a_moment_only() -> None:
    assert periods(job(catch_up=0), BERLIN, at("2026-06-02T00:35:00Z")) == ["2026-06-02"]
    assert periods(job(catch_up=0), BERLIN, at("2026-06-02T03:00:00Z")) == []


# In 2026 Europe's clocks go forward on 29 March and back on 25 October, at 01:00 UTC (Directive 2000/84/EC).
@pytest.mark.parametrize(
    ("day", "due"),
    [
        ("2026-03-28", "2026-03-28T01:30:00+00:00"),
        ("2026-03-29", "2026-03-29T01:30:00+00:00"),  # 02:30 is left out: read as 03:30 summer time
        ("2026-10-25", "2026-10-25T00:30:00+00:00"),  # 02:30 comes twice: its first pass counts
        ("2026-10-26", "2026-10-26T01:30:00+00:00"),
    ],
)
def test_a_night_with_a_change_of_the_clock_has_its_moment_once(day: str, due: str) -> None:
    [slot] = due_slots(job(), BERLIN, at(f"{day}T22:00:00Z"))

    assert (slot.period, slot.due_at.isoformat()) == (day, due)


@pytest.mark.parametrize("start", ["2026-03-28T00:00:00Z", "2026-10-24T00:00:00Z", "2026-12-30T00:00:00Z"])
def test_minute_by_minute_no_period_is_left_out_and_none_comes_back(start: str) -> None:
    seen = []
    for minute in range(0, 4 * 1440, 7):
        [slot] = due_slots(job(), BERLIN, at(start) + timedelta(minutes=minute))
        if not seen or seen[-1] != slot.period:
            seen.append(slot.period)

    assert seen == sorted(set(seen))
    assert len(seen) >= 4


def test_a_month_is_due_from_its_first_moment() -> None:
    monthly = job("31", "3", period="month", day_of_month="5-28")

    assert due_slots(monthly, BERLIN, at("2026-06-20T12:00:00Z")) == [("2026-06", at("2026-06-05T01:31:00Z"))]
    assert periods(monthly, BERLIN, at("2026-06-04T12:00:00Z")) == ["2026-05"]


def test_the_29th_of_february_comes_in_a_leap_year() -> None:
    leap = job(day_of_month="29", month_of_year="2", period="day")

    assert periods(leap, BERLIN, at("2028-03-01T12:00:00Z")) == ["2028-02-29"]
    assert periods(leap, BERLIN, at("2027-12-31T12:00:00Z")) == []


def test_what_comes_next_is_told() -> None:
    assert next_due(job(), BERLIN, at("2026-06-02T00:30:00Z")) == at("2026-06-03T00:30:00Z")
    assert (
        next_due(Job(name="j", title="J", run="x.y", schedule=Every(60)), BERLIN, at("2026-06-02T00:30:00Z"))
        is None
    )


def test_a_crontab_that_never_comes_is_refused() -> None:
    with pytest.raises(ValueError, match="never occurs"):
        due_slots(job(day_of_month="31", month_of_year="2"), BERLIN, datetime(2026, 6, 2, tzinfo=UTC))
