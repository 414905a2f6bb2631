"""What follows from the sound, the words or the silence at electrical equipment.

The sounds are invented, by seeds that no limit was set on (those were 0 to 39).
"""

import pytest

from findings.kinds.condition import ConditionSource
from findings.kinds.discharge_condition import (
    LOOK_AGAIN_DAYS,
    SEVERITY,
    SoundHeard,
    Surroundings,
    condition_by_sound,
    condition_by_words,
    condition_of_quiet,
    condition_overruled,
    look_again_days,
)
from findings.kinds.level_rise import LevelRise, LevelTrend
from findings.sound.discharge import Sound
from findings.sound.discharge_features import hear_discharge
from findings.sound.synthetic import Truth, synthetic

RISING = Surroundings(rise=LevelRise(LevelTrend.RISING, 8.0, 3))
TRUTHS = {
    Truth.CORONA: "corona-like",
    Truth.TRACKING: "tracking-like",
    Truth.ARCING: "arcing-like",
    Truth.HUM: "mains hum",
    Truth.NOISE: "steady noise",
}
SEEDS = range(900, 904)


def heard(truth, seed=901, *, gain_locked=True, seconds=10.0, **values):
    sound = hear_discharge(synthetic(truth, seed, snr_db=12.0, seconds=seconds, **values))
    return SoundHeard(
        analysis_id="a",
        recording_id="r",
        method_version="1",
        features=sound.features,
        seconds=seconds,
        gain_locked=gain_locked,
    )


def codes(found):
    return {reason.code for reason in found.reasons}


class TestASound:
    @pytest.mark.parametrize("mains_hz", [50.0, 60.0])
    @pytest.mark.parametrize("truth", TRUTHS)
    def test_gives_the_class_that_it_was_made_of(self, truth, mains_hz):
        around = Surroundings(mains_hz=mains_hz)
        states = [condition_by_sound(heard(truth, seed, mains_hz=mains_hz), around).state for seed in SEEDS]

        # Never another class; now and then none can be told.
        assert set(states) <= {TRUTHS[truth], "inconclusive"}
        assert states.count(TRUTHS[truth]) >= len(SEEDS) - 1

    @pytest.mark.parametrize("truth", [Truth.CORONA, Truth.TRACKING, Truth.ARCING])
    def test_of_a_discharge_opens_a_finding_and_keeps_the_doors_shut(self, truth):
        found = condition_by_sound(heard(truth), Surroundings())

        assert (found.opens_finding, found.order_due, found.keeps_shut) == (True, True, True)

    @pytest.mark.parametrize("truth", [Truth.HUM, Truth.NOISE])
    def test_of_none_opens_nothing_and_is_no_proof(self, truth):
        found = condition_by_sound(heard(truth), Surroundings())

        assert (found.severity, found.opens_finding, found.order_due, found.keeps_shut) == (
            1,
            False,
            False,
            False,
        )
        assert "no_all_clear" in codes(found)

    @pytest.mark.parametrize("truth", [Truth.HUM, Truth.NOISE])
    def test_of_none_with_a_rising_level_is_followed_up(self, truth):
        found = condition_by_sound(heard(truth), RISING)

        assert (found.severity, found.opens_finding, found.order_due, found.keeps_shut) == (
            3,
            True,
            True,
            True,
        )

    def test_of_none_is_a_method_of_its_own_so_that_it_unsays_no_discharge(self):
        loud = condition_by_sound(heard(Truth.TRACKING), Surroundings())
        still = condition_by_sound(heard(Truth.NOISE), Surroundings())

        assert loud.method != still.method

    def test_too_short_is_followed_up_and_nothing_is_told_of_it(self):
        found = condition_by_sound(heard(Truth.ARCING, seconds=3.0), Surroundings())

        assert (found.state, found.severity, found.order_due) == ("inconclusive", None, True)
        assert "too_short" in codes(found)

    def test_that_could_not_be_heard_at_all_is_inconclusive(self):
        nothing = SoundHeard(
            analysis_id="a", recording_id="r", method_version="1", features=None, seconds=9.0
        )
        found = condition_by_sound(nothing, Surroundings())

        assert (found.state, found.figures["rule"]) == ("inconclusive", "not_heard")

    def test_of_corona_under_a_thousand_volts_is_doubted_and_as_urgent(self):
        found = condition_by_sound(heard(Truth.CORONA), Surroundings(nominal_v=400.0))

        assert found.figures["label"] == "mains-locked discharge, corona unlikely at this voltage"
        assert (found.severity, found.keeps_shut) == (4, True)

    def test_of_tracking_with_a_gain_that_may_have_moved_says_so(self):
        assert "gain_may_track" in codes(
            condition_by_sound(heard(Truth.TRACKING, gain_locked=False), Surroundings())
        )
        assert "gain_may_track" not in codes(condition_by_sound(heard(Truth.TRACKING), Surroundings()))

    def test_with_the_rhythm_of_another_mains_says_so(self):
        around = Surroundings(mains_hz=60.0)

        assert "other_mains" in codes(condition_by_sound(heard(Truth.CORONA), around))

    def test_at_a_point_not_known_as_electrical_says_so(self):
        around = Surroundings(known_electrical=False)

        assert "not_known_electrical" in codes(condition_by_sound(heard(Truth.CORONA), around))

    def test_beside_a_leak_says_that_it_hides(self):
        around = Surroundings(leak_beside=True)

        assert "leak_beside" in codes(condition_by_sound(heard(Truth.NOISE), around))

    def test_is_kept_with_the_rule_the_figures_and_what_would_change_it(self):
        found = condition_by_sound(heard(Truth.TRACKING), Surroundings())

        assert found.figures["rule"] == "locked_uneven"
        assert {"cycle_cv"} <= {change["figure"] for change in found.figures["changes"]}
        assert {"name": "seconds", "words": "Length of the recording", "value": 10.0, "unit": "s"} in (
            found.figures["features"]
        )


class TestTheTables:
    def test_corona_and_tracking_are_equally_urgent(self):
        assert SEVERITY[Sound.CORONA] == SEVERITY[Sound.TRACKING]
        assert LOOK_AGAIN_DAYS[Sound.CORONA] == LOOK_AGAIN_DAYS[Sound.TRACKING]

    # NFPA 70B (2023): every 12 months at least, every 6 in the worst condition.
    @pytest.mark.parametrize("sound", list(Sound))
    def test_nothing_waits_longer_than_a_year_and_half_of_it_where_a_discharge_stands(self, sound):
        assert look_again_days(sound, rising=False, is_open=False) <= 365
        assert look_again_days(sound, rising=False, is_open=True) <= 182

    @pytest.mark.parametrize("sound", list(Sound))
    def test_a_rise_makes_the_next_look_sooner(self, sound):
        at_rest = look_again_days(sound, rising=False, is_open=False)
        assert look_again_days(sound, rising=True, is_open=False) < at_rest


class TestWords:
    @pytest.mark.parametrize(
        ("word", "state", "severity"),
        [("Tracking", "tracking-like", 4), ("arcing-like", "arcing-like", 5), ("hum", "mains hum", 1)],
    )
    def test_of_the_list_give_their_class(self, word, state, severity):
        found = condition_by_words(word, None, Surroundings())

        assert (found.state, found.severity, found.source) == (state, severity, ConditionSource.READING)
        assert "not_recorded" in codes(found)

    def test_beyond_it_give_none_and_the_doors_stay_shut_all_the_same(self):
        found = condition_by_words("crackles", None, Surroundings())

        assert (found.state, found.severity, found.order_due, found.keeps_shut) == (
            "inconclusive",
            None,
            True,
            True,
        )

    def test_of_hum_keep_nothing_shut(self):
        assert not condition_by_words("hum", None, Surroundings()).keeps_shut

    def test_leave_a_graver_severity_of_the_inspector_standing(self):
        assert condition_by_words("corona", 5, Surroundings()).severity == 5
        assert condition_by_words("corona", 2, Surroundings()).severity == 4


class TestAQuietReading:
    def test_says_nothing_of_the_equipment(self):
        found = condition_of_quiet(Surroundings())

        assert (found.state, found.severity, found.order_due) == ("nothing heard", None, None)
        assert (found.opens_finding, found.look_again_days) == (False, 365)
        assert "no_all_clear" in codes(found)

    def test_that_is_louder_than_before_is_followed_up(self):
        found = condition_of_quiet(RISING)

        assert (found.severity, found.opens_finding, found.order_due, found.keeps_shut) == (
            3,
            True,
            True,
            True,
        )


class TestAnOverrule:
    def test_keeps_shut_what_is_shut(self):
        found = condition_overruled(
            Sound.HUM, "It is the transformer.", Surroundings(), is_shut=True, before="corona-like"
        )

        assert (found.state, found.severity, found.keeps_shut) == ("mains hum", 1, True)
        assert {"overruled", "shut_until_released"} <= codes(found)

    def test_shuts_by_a_discharge(self):
        found = condition_overruled(
            Sound.ARCING, "Heard it snap twice.", Surroundings(), is_shut=False, before="steady noise"
        )

        assert (found.severity, found.keeps_shut, found.source) == (5, True, ConditionSource.INSPECTOR)
