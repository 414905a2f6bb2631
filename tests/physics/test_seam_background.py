"""Levels at a seam without the background."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.seam_background import BackgroundStatus, correct_background


class TestCorrectBackground:
    @pytest.mark.parametrize(
        ("difference", "taken_off", "status"),
        [
            # ISO 3746, survey grade, from memory: its cap is printed as 3 dB.
            (10.1, 0.0, BackgroundStatus.NONE),
            (10.0, 0.4576, BackgroundStatus.CORRECTED),
            (6.0, 1.2563, BackgroundStatus.CORRECTED),
            (3.0, 3.0206, BackgroundStatus.CORRECTED),
            (2.9, 3.0206, BackgroundStatus.UPPER_BOUND),
            (-40.0, 3.0206, BackgroundStatus.UPPER_BOUND),
        ],
    )
    def test_takes_off_what_the_rule_says(self, difference, taken_off, status):
        found = correct_background(20.0 + difference, 20.0)

        assert (found.correction_db, found.status) == (pytest.approx(taken_off, abs=5e-5), status)

    @given(st.floats(3.0, 10.0), st.floats(-20, 80))
    def test_makes_source_and_background_add_up_again(self, difference, background):
        alone = correct_background(background + difference, background).level_db

        together = 10 * math.log10(10 ** (alone / 10) + 10 ** (background / 10))
        assert together == pytest.approx(background + difference, abs=1e-9)
