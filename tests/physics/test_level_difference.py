"""Differences of levels."""

import pytest

from findings.physics.level_difference import level_difference


def test_two_readings_of_a_decibel_differ_by_up_to_the_root_of_two():
    found = level_difference(30.0, 20.0, 1.0, method="m", version="1")

    assert (found.value, found.u, found.low, found.high) == pytest.approx(
        (10.0, 1.41421, 7.22819, 12.77181), abs=1e-5
    )
