"""What may be said of a bearing, what follows from it for grease, and what is taken as a ladder."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from findings.conditions.rules.bearings import (
    Particulars,
    charge_of,
    frequencies_of,
    interval_of,
    particulars_problems,
)
from findings.conditions.rules.ladders import steps_of, steps_problems, steps_to_json
from findings.physics.wear_ladder import DEFAULT_LADDER, Step

BALL = Particulars(
    bearing_type="ball",
    bore_m=0.05,
    outer_diameter_m=0.11,
    width_m=0.027,
    elements=8,
    element_diameter_m=0.002,
    pitch_diameter_m=0.012,
    contact_angle_rad=math.radians(15.0),
    shaft_speed_hz=25.0,
)
SMALL = replace(BALL, bore_m=0.006, outer_diameter_m=0.018, width_m=0.005)


def problems(**changed):
    return {(one.member, one.code) for one in particulars_problems(replace(SMALL, **changed))}


class TestParticulars:
    def test_that_fit_have_no_problem(self):
        assert problems() == set()

    @pytest.mark.parametrize(
        ("changed", "problem"),
        [
            ({"bore_m": 50.0}, ("bore_m", "out_of_range")),  # millimetres sent as metres
            ({"bore_m": 0.02}, ("bore_m", "sizes_unfit")),
            ({"pitch_diameter_m": 0.1}, ("pitch_diameter_m", "sizes_unfit")),
            ({"elements": 20, "element_diameter_m": 0.005}, ("elements", "elements_do_not_fit")),
            ({"shaft_speed_hz": math.nan}, ("shaft_speed_hz", "out_of_range")),
        ],
    )
    def test_that_no_bearing_has_are_refused(self, changed, problem):
        assert problem in problems(**changed)

    def test_say_at_least_one_thing(self):
        assert [one.code for one in particulars_problems(Particulars())] == ["nothing_said"]


class TestWhatFollows:
    def test_is_the_charge_by_size(self):
        # 0.005 g per mm and mm: 110 mm by 27 mm is 14.85 g (handbooks of rolling bearings).
        assert charge_of(BALL).value == pytest.approx(0.01485)

    def test_is_the_interval_at_the_rated_speed(self):
        # k (14e6 / (n sqrt d) - 4 d) at 1500 turns a minute, 50 mm, k 10: 11 199 h by a technical guide.
        assert interval_of(BALL).value == pytest.approx(11_199.3 * 3600, rel=1e-4)

    def test_counts_a_temperature_class_by_its_upper_end(self):
        warm = replace(BALL, temperature_class="up_to_85_c")

        assert interval_of(warm).value == pytest.approx(interval_of(BALL).value / 2)

    def test_halves_the_interval_of_a_vertical_shaft(self):
        upright = replace(BALL, vertical_shaft=True)

        assert interval_of(upright).value == pytest.approx(interval_of(BALL).value / 2)

    @pytest.mark.parametrize(
        ("known", "codes"),
        [
            (None, ["bearing_type_unknown", "bore_m_unknown", "shaft_speed_hz_unknown"]),
            (replace(BALL, bearing_type=""), ["bearing_type_unknown"]),
        ],
    )
    def test_is_refused_with_what_is_missing(self, known, codes):
        assert [reason.code for reason in interval_of(known).reasons] == codes
        assert interval_of(known).value is None

    def test_is_where_the_rhythms_of_damage_lie(self):
        # 8 elements, 2 mm in 12 mm at 15 degrees and 25 Hz: 83.901 and 116.099 Hz (own check case).
        found = frequencies_of(BALL, None)

        assert found.outer_ring.value == pytest.approx(83.901, abs=1e-3)
        assert found.inner_ring.value == pytest.approx(116.099, abs=1e-3)

    def test_is_no_rhythm_without_the_geometry(self):
        assert frequencies_of(replace(BALL, elements=None), 25.0) is None


class TestALadder:
    def test_is_the_usual_one_without_the_sites_own(self):
        assert steps_of(None) == DEFAULT_LADDER

    def test_comes_back_as_it_was_stored(self):
        assert steps_of(steps_to_json(DEFAULT_LADDER)) == DEFAULT_LADDER

    @pytest.mark.parametrize(
        ("changed", "code"),
        [
            ({"one_reading": False}, "ladder_confirmation"),
            ({"rise_db": 8.0}, "ladder_not_rising"),
            ({"key": "Stop now"}, "invalid"),
            ({"source": " "}, "blank"),
            ({"rise_db": math.nan}, "ladder_empty"),
        ],
    )
    def test_that_cannot_be_one_is_refused(self, changed, code):
        steps = [*DEFAULT_LADDER[:-1], Step(**{**DEFAULT_LADDER[-1]._asdict(), **changed})]

        assert code in {problem.code for problem in steps_problems(steps)}
