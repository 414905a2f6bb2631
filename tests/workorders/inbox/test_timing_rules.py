"""When a person is written to."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workorders.inbox.rules import MailWish, Wishes, is_quiet, mail_from

BERLIN = ZoneInfo("Europe/Berlin")
ST_JOHNS = ZoneInfo("America/St_Johns")
BEGIN = datetime(2026, 1, 1)  # noqa: DTZ001 - the strategy adds the zone
AT_ONCE = Wishes(mail=MailWish.AT_ONCE, quiet_from_hour=21, quiet_until_hour=6)
DAILY = Wishes(mail=MailWish.DAILY, digest_hour=7)


def local(*parts: int, zone: ZoneInfo = BERLIN) -> datetime:
    return datetime(*parts, tzinfo=zone).astimezone(UTC)  # type: ignore[arg-type, misc]


class TestMailFrom:
    def test_off_is_never_even_of_danger(self) -> None:
        assert mail_from(local(2026, 3, 2, 9), BERLIN, Wishes(mail=MailWish.OFF), is_safety=True) is None

    @pytest.mark.parametrize("wishes", [AT_ONCE, DAILY])
    def test_danger_is_at_once_by_night_too(self, wishes: Wishes) -> None:
        at = local(2026, 3, 2, 3)

        assert mail_from(at, BERLIN, wishes, is_safety=True) == at

    def test_daily_is_the_next_morning(self) -> None:
        assert mail_from(local(2026, 3, 2, 9), BERLIN, DAILY, is_safety=False) == local(2026, 3, 3, 7)

    def test_daily_is_the_same_morning_before_its_hour(self) -> None:
        assert mail_from(local(2026, 3, 2, 6, 59), BERLIN, DAILY, is_safety=False) == local(2026, 3, 2, 7)

    def test_daily_keeps_its_hour_over_the_change_of_the_clocks(self) -> None:
        found = mail_from(local(2026, 3, 28, 9), BERLIN, DAILY, is_safety=False)

        assert found == datetime(2026, 3, 29, 5, tzinfo=UTC)

    def test_an_hour_that_the_change_leaves_out_is_the_one_after(self) -> None:
        wishes = Wishes(mail=MailWish.DAILY, digest_hour=2)

        found = mail_from(local(2026, 3, 28, 9), BERLIN, wishes, is_safety=False)

        assert found is not None
        assert found.astimezone(BERLIN).hour == 3

    def test_at_once_is_at_once_by_day(self) -> None:
        at = local(2026, 3, 2, 9)

        assert mail_from(at, BERLIN, AT_ONCE, is_safety=False) == at

    def test_at_once_waits_for_the_end_of_quiet_hours(self) -> None:
        found = mail_from(local(2026, 3, 2, 22), BERLIN, AT_ONCE, is_safety=False)

        assert found == local(2026, 3, 3, 6)

    def test_counts_by_the_sites_clock(self) -> None:
        at = datetime(2026, 3, 2, 9, tzinfo=UTC)

        assert mail_from(at, ST_JOHNS, DAILY, is_safety=False) == local(2026, 3, 2, 7, zone=ST_JOHNS)


class TestIsQuiet:
    @pytest.mark.parametrize(("hour", "quiet"), [(20, False), (21, True), (0, True), (5, True), (6, False)])
    def test_runs_over_midnight(self, hour: int, quiet: bool) -> None:
        assert is_quiet(local(2026, 3, 2, hour), BERLIN, AT_ONCE) is quiet

    @pytest.mark.parametrize(("hour", "quiet"), [(11, False), (12, True), (13, False)])
    def test_may_lie_within_a_day(self, hour: int, quiet: bool) -> None:
        wishes = Wishes(quiet_from_hour=12, quiet_until_hour=13)

        assert is_quiet(local(2026, 3, 2, hour), BERLIN, wishes) is quiet

    def test_is_never_without_both_hours(self) -> None:
        assert not is_quiet(local(2026, 3, 2, 3), BERLIN, Wishes(quiet_from_hour=None, quiet_until_hour=None))


@given(
    st.datetimes(BEGIN, BEGIN + timedelta(days=365), timezones=st.just(UTC)),
    st.sampled_from([BERLIN, ST_JOHNS, ZoneInfo("Pacific/Apia")]),
    st.integers(0, 23),
    st.sampled_from([MailWish.DAILY, MailWish.AT_ONCE]),
)
def test_nothing_waits_longer_than_a_day_and_an_hour(
    at: datetime, zone: ZoneInfo, hour: int, mail: MailWish
) -> None:
    found = mail_from(at, zone, Wishes(mail=mail, digest_hour=hour), is_safety=False)

    assert found is not None
    assert at <= found <= at + timedelta(hours=25)
