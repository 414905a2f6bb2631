"""One sender at a time, by the database's clock."""

from __future__ import annotations

import threading

import pytest
from django.db import connection

from plantcare.jobs.lease import end_turn, is_outdated, take_turn
from plantcare.jobs.models import Lease


@pytest.mark.django_db
class TestTurns:
    def shift(self, by: str) -> None:
        """Let the database's clock seem to jump: move what was written by it the other way."""
        with connection.cursor() as cursor:
            cursor.execute("UPDATE jobs_lease SET until_at = until_at - %s::interval", [by])

    def test_the_second_waits_while_the_first_renews(self):
        assert [take_turn("beat", who) for who in ("a", "b", "a", "b")] == [1, None, 1, None]

    def test_the_second_takes_over_when_the_first_has_not_renewed(self):
        take_turn("beat", "a")
        self.shift("16 seconds")

        assert take_turn("beat", "b") == 2
        assert take_turn("beat", "a") is None

    def test_the_second_does_not_wait_for_a_first_that_ended_in_order(self):
        take_turn("beat", "a")
        end_turn("beat", "a")

        assert take_turn("beat", "b") == 2

    def test_nobody_ends_anothers_turn(self):
        take_turn("beat", "a")
        end_turn("beat", "b")

        assert take_turn("beat", "b") is None

    def test_a_clock_set_back_locks_nobody_out(self):
        take_turn("beat", "a")
        self.shift("-2 hours")

        assert take_turn("beat", "b") == 2

    def test_a_clock_set_forward_costs_one_change_of_hands_at_most(self):
        take_turn("beat", "a")
        self.shift("2 hours")

        assert [take_turn("beat", "b"), take_turn("beat", "a"), take_turn("beat", "b")] == [2, None, 2]

    def test_what_an_earlier_holder_sent_is_known_as_such(self):
        first = take_turn("beat", "a")
        end_turn("beat", "a")
        second = take_turn("beat", "b")

        assert [is_outdated("beat", token) for token in (first, second, None)] == [True, False, False]


@pytest.mark.django_db(transaction=True)
def test_of_many_at_once_one_has_the_turn():
    gate, got = threading.Barrier(6), []

    def ask(who):
        gate.wait(20)
        got.append(take_turn("beat", who))
        connection.close()

    threads = [threading.Thread(target=ask, args=(f"p{n}",)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(got, key=str) == [1, None, None, None, None, None]
    assert Lease.objects.get().token == 1
