"""Steps of the ladder, alarms and what may be concluded from a level."""

import math

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.wear_baseline import Setting, WearReading, baseline
from findings.physics.wear_ladder import (
    DEFAULT_LADDER,
    Step,
    WearState,
    judge,
    ladder_problems,
    rise_over,
    step_reached,
)

HAND = Setting("detector 3", "rod 100 mm", "held by hand")
LEVELS = (19.0, 21.0, 20.0, 19.5, 20.5, 20.0, 19.0, 21.0)


def reading(level, *, setting=HAND, speed_hz=25.0, load=None):
    return WearReading(level, setting, speed_hz, load)


def base(*, levels=LEVELS, good=True, speed_hz=25.0, load=None):
    taken = [reading(level, speed_hz=speed_hz, load=load) for level in levels]
    return baseline(taken, good_state_confirmed=good)


def codes(verdict):
    return {reason.code for reason in verdict.reasons}


class TestLadder:
    @pytest.mark.parametrize(
        ("rise", "step"), [(7.99, 0), (8.0, 1), (11.9, 1), (12.0, 2), (16.0, 3), (34.9, 3), (35.0, 4)]
    )
    def test_reaches_a_step_at_its_limit(self, rise, step):
        # 8 dB of a trade article; 12, 16 and 35 dB common practice, from memory.
        assert step_reached(rise) == step

    def test_forgives_the_rounding_of_a_difference(self):
        assert step_reached(20.3 - 12.3) == 1

    def test_is_marked_as_what_it_is(self):
        marked = [step.source for step in DEFAULT_LADDER]

        assert [("memory" in source) for source in marked] == [False, True, True, True]

    def test_of_the_house_is_sound(self):
        assert ladder_problems(DEFAULT_LADDER) == ()

    @pytest.mark.parametrize(
        ("ladder", "code"),
        [
            ((), "ladder_empty"),
            ((Step("a", 0.0, "", "", one_reading=True),), "ladder_empty"),
            ((Step("a", math.nan, "", "", one_reading=True),), "ladder_empty"),
            (DEFAULT_LADDER[::-1], "ladder_not_rising"),
            ((DEFAULT_LADDER[0], DEFAULT_LADDER[0]), "ladder_key_twice"),
            (DEFAULT_LADDER[:2], "ladder_confirmation"),
            ((DEFAULT_LADDER[2], DEFAULT_LADDER[1]), "ladder_confirmation"),
        ],
    )
    def test_of_a_site_is_checked(self, ladder, code):
        assert code in {reason.code for reason in ladder_problems(ladder)}

    @given(st.floats(-50, 80), st.floats(0, 30))
    def test_never_steps_down_for_a_larger_rise(self, rise, more):
        assert step_reached(rise + more) >= step_reached(rise)


class TestRise:
    def test_has_the_prediction_interval_of_one_more_reading(self):
        made = base(levels=[2.0 * level for level in LEVELS])
        fit = sm.OLS([2.0 * level for level in LEVELS], np.ones(len(LEVELS))).fit()
        low, high = fit.get_prediction([1.0]).conf_int(obs=True)[0]

        rise = rise_over(50.0, made)

        assert (rise.low, rise.high) == pytest.approx((10.0 - (high - 40.0), 10.0 + (40.0 - low)))


class TestJudge:
    def test_takes_a_quiet_reading_as_no_step(self):
        verdict = judge([reading(21.0)], base())

        assert (verdict.state, verdict.step, verdict.alarm, verdict.work_order) == (
            WearState.NO_STEP,
            0,
            False,
            False,
        )

    def test_wants_a_second_reading_first(self):
        verdict = judge([reading(21.0), reading(29.0)], base())

        assert (verdict.state, verdict.step_key, verdict.alarm, verdict.work_order) == (
            WearState.CONFIRM,
            "lubricate",
            True,
            False,
        )

    def test_holds_after_two_in_a_row(self):
        verdict = judge([reading(29.0), reading(29.0)], base())

        assert (verdict.state, verdict.work_order) == (WearState.WORK_ORDER, True)

    def test_does_not_count_an_alarm_before_a_quiet_reading(self):
        assert judge([reading(29.0), reading(20.0), reading(29.0)], base()).state is WearState.CONFIRM

    def test_does_not_count_a_reading_by_another_probe(self):
        other = reading(29.0, setting=HAND._replace(probe="magnet"))

        assert judge([other, reading(29.0)], base()).state is WearState.CONFIRM

    def test_needs_one_reading_from_advanced_on(self):
        assert judge([reading(36.0)], base()).state is WearState.WORK_ORDER

    def test_alarms_over_the_statistical_limit_below_the_first_step(self):
        verdict = judge([reading(24.0)], base())

        assert (verdict.step, verdict.over_limit, verdict.state) == (0, True, WearState.CONFIRM)

    def test_follows_the_sites_own_ladder(self):
        own = (Step("look", 3.0, "Look.", "site", one_reading=True),)

        assert judge([reading(23.0)], base(), ladder=own).step_key == "look"

    def test_passes_on_that_the_baseline_has_an_outlier(self):
        assert "outlier" in codes(judge([reading(20.0)], base(levels=[*LEVELS, 34.0])))

    def test_does_not_judge_by_a_broken_ladder(self):
        assert judge([reading(40.0)], base(), ladder=()).state is WearState.NOT_DETERMINED


class TestNoFalseAllClear:
    @pytest.mark.parametrize(
        ("readings", "made", "code"),
        [
            ([reading(20.0)], None, "no_baseline"),
            ([reading(20.0)], base(levels=LEVELS[:3]), "too_few_readings"),
            ([reading(20.0)], base(good=False), "good_state_not_confirmed"),
            ([], base(), "no_reading"),
            ([reading(math.nan)], base(), "level_out_of_range"),
            ([reading(20.0, setting=HAND._replace(instrument="other"))], base(), "setting_differs"),
            ([reading(20.0, speed_hz=None)], base(), "speed_unknown"),
            ([reading(20.0, speed_hz=22.0)], base(), "speed_differs"),
            ([reading(20.0, load=0.5)], base(), "load_unknown"),
            ([reading(20.0)], base(load=0.9), "load_unknown"),
            ([reading(20.0, load=0.5)], base(load=0.9), "load_differs"),
            ([reading(5.0)], base(), "far_below_baseline"),
        ],
    )
    def test_without_grounds_nothing_is_determined(self, readings, made, code):
        verdict = judge(readings, made)

        assert (verdict.state, verdict.alarm, verdict.work_order, verdict.step) == (
            WearState.NOT_DETERMINED,
            None,
            None,
            None,
        )
        assert code in codes(verdict)

    def test_a_slow_shaft_is_not_cleared_by_its_level(self):
        verdict = judge([reading(20.0, speed_hz=0.3)], base(speed_hz=0.3))

        assert (verdict.state, verdict.alarm, verdict.work_order) == (
            WearState.LEVEL_DOES_NOT_DECIDE,
            None,
            None,
        )

    def test_a_slow_shaft_may_still_alarm(self):
        verdict = judge([reading(40.0, speed_hz=0.3)], base(speed_hz=0.3))

        assert (verdict.state, verdict.alarm, verdict.work_order) == (
            WearState.LEVEL_DOES_NOT_DECIDE,
            True,
            True,
        )

    def test_twenty_five_turns_a_minute_are_not_slow(self):
        speed = 25.0 / 60.0

        assert judge([reading(20.0, speed_hz=speed)], base(speed_hz=speed)).state is WearState.NO_STEP

    @given(
        level=st.floats(-400, 400) | st.just(math.nan),
        speed=st.none() | st.floats(0.0, 60.0),
        load=st.none() | st.floats(0.0, 1.5),
        made=st.sampled_from([None, base(), base(load=0.9), base(speed_hz=0.3), base(levels=LEVELS[:5])]),
    )
    def test_alarm_is_denied_only_by_a_comparable_fast_reading(self, level, speed, load, made):
        verdict = judge([reading(level, speed_hz=speed, load=load)], made)

        if verdict.alarm is False or verdict.work_order is False:
            assert verdict.state in {WearState.NO_STEP, WearState.CONFIRM}
            assert abs(speed - made.speed_hz) <= 0.1001 * made.speed_hz
            assert speed >= 0.4
