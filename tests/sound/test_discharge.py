"""The rules over figures: which class, which rule, what would change it, and what follows."""

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.sound.discharge import BLOCKED, DISCHARGES, LIMITS, SEAMS, Features, Sound, classify, fired

CORONA = Features(
    seconds=10.0,
    level_db=-20.0,
    clipped_share=0.0,
    mains_hz=50.0,
    harmonics=10,
    other_lines=0,
    comb_db=3.0,
    depth=0.9,
    second_to_first_db=-2.0,
    high_share=0.4,
    high_share_at_most=0.42,
    cycle_cv=0.25,
    loud_cycles_per_s=0.0,
    bursts_per_s=0.0,
    burst_duty=0.0,
)
HUM = {"harmonics": 2, "high_share": 0.0, "high_share_at_most": 0.02}
FREE = {"harmonics": 0, "comb_db": -99.0, "high_share": 0.0, "high_share_at_most": 1.0}
FEATURES = st.builds(
    Features,
    seconds=st.floats(0, 400),
    level_db=st.floats(-200, 0),
    clipped_share=st.floats(0, 1),
    mains_hz=st.floats(49, 61),
    harmonics=st.integers(0, 10),
    other_lines=st.integers(0, 50),
    comb_db=st.floats(-99, 99),
    depth=st.floats(0, 5),
    second_to_first_db=st.none() | st.floats(-99, 99),
    high_share=st.floats(0, 1),
    high_share_at_most=st.floats(0, 1),
    cycle_cv=st.floats(0, 30),
    loud_cycles_per_s=st.floats(0, 60),
    bursts_per_s=st.floats(0, 100),
    burst_duty=st.floats(0, 1),
)


def heard(changes=None, **context):
    return classify(dataclasses.replace(CORONA, **(changes or {})), **context)


class TestRules:
    @pytest.mark.parametrize(
        ("changes", "rule", "sound"),
        [
            ({}, "locked_even_many_orders", Sound.CORONA),
            ({"cycle_cv": 1.0}, "locked_uneven", Sound.TRACKING),
            (HUM, "locked_even_low_orders", Sound.HUM),
            (HUM | {"bursts_per_s": 0.1}, "bursts_in_hum", Sound.INCONCLUSIVE),
            (HUM | {"harmonics": 4}, "locked_even_low_orders", Sound.HUM),
            (HUM | {"harmonics": 5}, "locked_even_unclear", Sound.INCONCLUSIVE),
            (HUM | {"other_lines": 1}, "other_rhythm", Sound.INCONCLUSIVE),
            (FREE | {"other_lines": 1}, "other_rhythm", Sound.INCONCLUSIVE),
            ({"other_lines": 5}, "locked_even_many_orders", Sound.CORONA),
            (HUM | {"loud_cycles_per_s": 0.1}, "bursts_in_hum", Sound.INCONCLUSIVE),
            (FREE | {"loud_cycles_per_s": 0.1}, "bursts_in_noise", Sound.INCONCLUSIVE),
            (HUM | {"high_share": 0.03}, "locked_even_unclear", Sound.INCONCLUSIVE),
            (HUM | {"high_share_at_most": 0.08}, "locked_even_unclear", Sound.INCONCLUSIVE),
            ({"harmonics": 3}, "locked_even_unclear", Sound.INCONCLUSIVE),
            (FREE, "unlocked_steady", Sound.NOISE),
            (FREE | {"cycle_cv": 0.4}, "unlocked_unclear", Sound.INCONCLUSIVE),
            (FREE | {"bursts_per_s": 0.05}, "bursts_in_noise", Sound.INCONCLUSIVE),
            (FREE | {"cycle_cv": 1.0}, "unlocked_bursts", Sound.ARCING),
            ({"comb_db": -10.1}, "faint_lock", Sound.INCONCLUSIVE),
            ({"seconds": 4.99}, "too_short", Sound.INCONCLUSIVE),
            ({"level_db": -70.1}, "too_weak", Sound.INCONCLUSIVE),
            (HUM | {"clipped_share": 0.002}, "clipped", Sound.INCONCLUSIVE),
            (FREE | {"clipped_share": 0.002}, "clipped", Sound.INCONCLUSIVE),
            ({"clipped_share": 0.002}, "locked_even_many_orders", Sound.CORONA),
        ],
    )
    def test_give(self, changes, rule, sound):
        verdict = heard(changes)

        assert (verdict.rule.code, verdict.sound) == (rule, sound)

    def test_want_finite_figures(self):
        with pytest.raises(ValueError, match="finite"):
            heard({"depth": math.nan})


class TestWhatWouldChangeIt:
    def test_names_figure_limit_and_class(self):
        changes = {(change.figure, change.limit): change.sound for change in heard().changes}

        assert changes[("cycle_cv", 1.0)] is Sound.TRACKING
        assert changes[("seconds", 5.0)] is Sound.INCONCLUSIVE

    @given(FEATURES)
    def test_is_true(self, features):
        verdict = classify(features)
        for change in verdict.changes:
            above = getattr(features, change.figure) >= change.limit
            moved = (
                change.limit - (1 if change.figure in {"harmonics", "other_lines"} else 1e-6)
                if above
                else change.limit
            )
            assert fired(dataclasses.replace(features, **{change.figure: moved})).sound is change.sound

    @given(FEATURES)
    def test_leaves_no_single_limit_out(self, features):
        verdict = classify(features)
        told = {change.sound for change in verdict.changes}
        for limit in LIMITS:
            if getattr(features, limit.figure) < limit.value:
                moved = dataclasses.replace(features, **{limit.figure: limit.value})
                assert fired(moved).sound in told | {verdict.sound}


class TestWhatFollows:
    @given(FEATURES, st.none() | st.floats(0, 1e6), st.booleans())
    def test_only_hum_and_steady_noise_that_do_not_rise_need_no_follow_up(self, features, nominal_v, rising):
        verdict = classify(features, nominal_v=nominal_v, rising=rising)

        assert verdict.follow_up == (rising or verdict.sound not in {Sound.HUM, Sound.NOISE})

    @given(FEATURES)
    def test_is_never_an_all_clear(self, features):
        verdict = classify(features)
        codes = {reason.code for reason in verdict.reasons}

        assert ("no_all_clear" in codes) == (verdict.sound not in DISCHARGES)
        assert SEAMS in verdict.cautions

    @pytest.mark.parametrize(("rising", "blocked"), [(False, False), (True, True)])
    def test_rising_hum_keeps_doors_shut(self, rising, blocked):
        verdict = heard(HUM, rising=rising)

        assert (verdict.keeps_doors_shut, BLOCKED in verdict.cautions) == (blocked, blocked)

    @pytest.mark.parametrize(
        ("nominal_v", "label"), [(999, "corona unlikely"), (1000, "corona-like"), (None, "corona-like")]
    )
    def test_corona_is_doubted_at_low_voltage(self, nominal_v, label):
        verdict = heard(nominal_v=nominal_v)

        assert (verdict.sound, label in verdict.label) == (Sound.CORONA, True)

    @given(FEATURES, st.floats(0, 4.99) | st.floats(-300, -70.1))
    def test_weak_or_short_is_inconclusive(self, features, figure):
        name = "seconds" if figure >= 0 else "level_db"

        assert classify(dataclasses.replace(features, **{name: figure})).sound is Sound.INCONCLUSIVE
