"""When a mail is tried again."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta

import pytest

from workorders.inbox.rules import PAUSES, is_final, retry_at

AT = datetime(2026, 3, 2, 8, tzinfo=UTC)
MAIL = uuid.UUID(int=7)


class TestRetryAt:
    def test_comes_soon_after_the_first_failure(self) -> None:
        again = retry_at(AT, 1, MAIL)

        assert again is not None
        assert timedelta(minutes=1) <= again - AT <= timedelta(minutes=1.1)

    def test_never_comes_sooner_than_the_time_before(self) -> None:
        waits = [found - AT for n in range(1, len(PAUSES)) if (found := retry_at(AT, n, MAIL)) is not None]

        assert waits == sorted(waits)

    def test_ends_after_the_last_pause(self) -> None:
        assert retry_at(AT, len(PAUSES) + 1, MAIL) is None

    def test_is_the_same_for_the_same_mail(self) -> None:
        assert retry_at(AT, 3, MAIL) == retry_at(AT, 3, MAIL)

    def test_differs_between_mails(self) -> None:
        assert len({retry_at(AT, 5, uuid.UUID(int=n)) for n in range(20)}) > 10

    def test_goes_on_for_three_days_or_more(self) -> None:
        assert sum(PAUSES, timedelta()) >= timedelta(days=3)


@pytest.mark.parametrize(
    ("code", "final"), [(550, True), (554, True), (450, False), (421, False), (250, False)]
)
def test_only_a_5yz_answer_is_final(code: int, final: bool) -> None:
    assert is_final(code) is final
