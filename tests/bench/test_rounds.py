"""Paired rounds: the ratio of two ways, with a clock that the test turns."""

from collections.abc import Callable

import pytest

from plantcare.bench.rounds import compare, ratio_of


class Clock:
    """A clock that moves only when work is done."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now

    def work(self, seconds: float) -> Callable[[], None]:
        def way() -> None:
            self.now += seconds

        return way


def test_the_ratio_is_ours_over_plain() -> None:
    clock = Clock()

    found = compare(clock.work(2.0), clock.work(3.0), rounds=5, clock=clock)

    assert (found.value, found.low, found.high, found.rounds) == pytest.approx((1.5, 1.5, 1.5, 5))


def test_a_short_way_is_called_often_in_a_round() -> None:
    clock, calls = Clock(), [0]

    def short() -> None:
        calls[0] += 1
        clock.now += 0.001

    compare(short, clock.work(0.001), rounds=3, clock=clock)

    assert calls[0] == 1 + 3 * 20


def test_the_first_call_does_not_count() -> None:
    clock, first = Clock(), [100.0]

    def slow_once() -> None:
        clock.now += first.pop() if first else 1.0

    assert compare(clock.work(1.0), slow_once, rounds=3, clock=clock).high == pytest.approx(1.0)


def test_one_disturbed_round_does_not_move_the_median() -> None:
    found = ratio_of([1.0] * 20 + [50.0])

    assert (found.value, found.high) == (1.0, 1.0)


def test_scattered_rounds_show_a_wider_interval() -> None:
    tight, wide = ratio_of([1.0, 1.01, 0.99] * 7), ratio_of([1.0, 2.0, 0.5] * 7)

    assert wide.high - wide.low > tight.high - tight.low


def test_two_rounds_are_no_comparison() -> None:
    with pytest.raises(ValueError, match="at least 3"):
        compare(lambda: None, lambda: None, rounds=2)
