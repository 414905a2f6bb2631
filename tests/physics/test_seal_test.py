"""Seal tests by a tone source."""

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.seal_test import SeamPoint, Verdict, Walk, seal_test
from findings.physics.seam import Seam
from findings.physics.tone_source import Criterion, Strength, amplitude_percent, check_source

# An invented walk along the door of the proving cabinet; peak places computed by hand.
LEVELS = (18, 18, 18, 24.7, 39.0, 39.3, 25.4, 18, 18, 18.1, 19.6, 23.9, 24.5, 20.4, 18.1, 18, 18)
STEP = 0.25


def walk(levels=LEVELS, *, ring=False, step=STEP, background=5.0, **changes):
    points = [SeamPoint(step * index, level) for index, level in enumerate(levels)]
    length = step * (len(levels) if ring else len(levels) - 1)
    plain = {"open_level_db": 52.0, "background_db": background, "seam": Seam(length, ring), "points": points}
    return Walk(**(plain | changes))


def codes(result):
    return {reason.code for reason in result.reasons}


def places(result, verdict):
    return [point.position_m for point in result.points if point.verdict is verdict]


class TestSource:
    @pytest.mark.parametrize(
        ("background", "strength"),
        [
            (10.0, Strength.STRONG),
            (26.0, Strength.STRONG),
            (27.0, Strength.JUST_ENOUGH),
            (32.0, Strength.JUST_ENOUGH),
            (32.1, Strength.TOO_WEAK),
            (60.0, Strength.TOO_WEAK),
        ],
    )
    def test_wants_twenty_decibels_and_six_in_hand(self, background, strength):
        assert check_source(52.0, background).strength is strength

    def test_says_how_much_is_lacking(self):
        assert "lacks 4.0 dB" in check_source(52.0, 36.0).reasons[0].text

    def test_by_the_number_shown_wants_more(self):
        # 44 dB open: a tenth of the sound pressure is 24 dB, a tenth of the number 4.4 dB.
        limits = [check_source(44.0, 0.0, criterion=criterion).limit_level_db for criterion in Criterion]

        assert limits == pytest.approx([24.0, 4.4])

    @pytest.mark.parametrize(
        ("open_level", "background"), [(math.nan, 0.0), (0.0, math.inf), (1e9, 0.0), (50.0, -1e9)]
    )
    def test_is_not_determined_from_impossible_levels(self, open_level, background):
        found = check_source(open_level, background)

        assert (found.strength, found.margin.value) == (Strength.NOT_DETERMINED, None)

    def test_of_a_silent_number_has_no_tenth(self):
        found = check_source(0.0, -10.0, criterion=Criterion.DISPLAYED_NUMBER)

        assert found.reasons[0].code == "open_level_not_positive"


class TestAmplitude:
    @pytest.mark.parametrize(("drop", "percent"), [(0, 100), (6.0206, 50), (10, 31.623), (20, 10), (40, 1)])
    def test_falls_by_ten_in_twenty_decibels(self, drop, percent):
        assert amplitude_percent(drop) == pytest.approx(percent, rel=1e-5)


class TestWalk:
    def test_judges_each_point(self):
        result = seal_test(walk())

        assert (places(result, Verdict.FAIL), places(result, Verdict.WATCH)) == (
            [1.0, 1.25],
            [0.75, 1.5, 3.0],
        )

    def test_places_the_leaks(self):
        leaks = seal_test(walk()).leaks

        assert [(leak.number, leak.verdict) for leak in leaks] == [(1, Verdict.FAIL), (2, Verdict.WATCH)]
        assert [leak.position.value for leak in leaks] == pytest.approx([1.130, 2.907], abs=5e-4)

    def test_names_the_worst_drop(self):
        result = seal_test(walk())

        assert (result.verdict, result.smallest_drop.value) == (Verdict.FAIL, pytest.approx(12.7))

    def test_passes_a_quiet_seam(self):
        result = seal_test(walk([18.0] * 9))

        assert (result.verdict, result.leaks, codes(result)) == (
            Verdict.PASS,
            (),
            {"criterion", "sound_only"},
        )

    def test_takes_the_background_off(self):
        result = seal_test(walk([18.0] * 9, background=12.0))

        # 18 dB over 12 dB: 10 lg(10^1.8 - 10^1.2).
        assert result.intact_level_db == pytest.approx(16.7437, abs=1e-4)

    def test_passes_what_is_drowned_but_low_enough(self):
        assert seal_test(walk([18.0] * 9, background=18.0)).verdict is Verdict.PASS

    def test_cannot_tell_what_is_drowned_and_loud(self):
        points = [*walk([18.0] * 9).points[:-1], SeamPoint(2.0, 37.0, background_db=36.0)]

        result = seal_test(walk([18.0] * 9, points=points))

        assert (result.verdict, places(result, Verdict.NOT_DETERMINED)) == (Verdict.NOT_DETERMINED, [2.0])

    def test_still_fails_with_a_source_too_weak_to_pass(self):
        result = seal_test(walk([33.0] * 8 + [48.0], background=33.0))

        assert (result.verdict, places(result, Verdict.PASS)) == (Verdict.FAIL, [])

    def test_never_passes_with_a_source_too_weak(self):
        assert seal_test(walk([20.0] * 9, background=33.0)).verdict is Verdict.NOT_DETERMINED

    def test_drops_the_excess_rule_where_no_seam_is_intact(self):
        result = seal_test(walk([18.0] * 6 + [26.0] * 3))

        assert (result.excess_rule_used, places(result, Verdict.WATCH)) == (False, [])
        assert "excess_rule_dropped" in codes(result)

    def test_is_open_where_nobody_walked(self):
        result = seal_test(walk([18.0] * 9, seam=Seam(3.0, ring=False)))

        assert (result.verdict, result.gaps) == (Verdict.NOT_DETERMINED, ((2.0, 3.0),))

    def test_closes_a_ring(self):
        result = seal_test(walk([30.0, *[18.0] * 8, 30.5], ring=True))

        (leak,) = result.leaks
        assert 2.25 <= leak.position.value <= 2.5

    def test_keeps_the_louder_of_two_readings_at_one_place(self):
        points = [*walk([18.0] * 9).points, SeamPoint(1.0, 45.0), SeamPoint(1.0, 20.0)]

        assert places(seal_test(walk([18.0] * 9, points=points)), Verdict.FAIL) == [1.0]

    def test_follows_the_number_shown_where_the_site_says_so(self):
        result = seal_test(walk([6.0] * 9, background=-20.0, criterion=Criterion.DISPLAYED_NUMBER))

        assert (result.verdict, result.source.limit_level_db) == (Verdict.FAIL, pytest.approx(5.2))

    def test_warns_near_the_limit(self):
        assert "near_limit" in codes(seal_test(walk([30.5] * 9)))

    def test_warns_of_an_unsteady_background(self):
        assert "background_unsteady" in codes(seal_test(walk([10.0] * 9, background=13.0)))

    def test_never_speaks_of_a_flow(self):
        assert "no flow" in seal_test(walk()).reasons[-1].text


class TestRefusals:
    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"points": []}, "too_few_points"),
            ({"points": [SeamPoint(1.0, 18.0)] * 9}, "too_few_points"),
            ({"points": [SeamPoint(9.0, 18.0)] * 9}, "point_off_seam"),
            ({"points": [SeamPoint(1.0, math.nan)] * 9}, "not_finite"),
            ({"points": [SeamPoint(1.0, 1e6)] * 9}, "level_out_of_range"),
            ({"least_drop_db": 0.0}, "drop_not_positive"),
            ({"seam": Seam(0.0, ring=True)}, "length_not_positive"),
            ({"open_distance_m": 0.1, "scan_distance_m": 0.3}, "distances_differ"),
            ({"open_distance_m": 0.0, "scan_distance_m": 0.0}, "distances_differ"),
        ],
    )
    def test_of_walks_that_cannot_be_judged(self, changes, code):
        result = seal_test(walk(**changes))

        assert (result.verdict, result.smallest_drop.value, result.points) == (
            Verdict.NOT_DETERMINED,
            None,
            (),
        )
        assert code in codes(result)


class TestNoFalsePass:
    @given(
        st.lists(st.tuples(st.floats(-20, 60), st.none() | st.floats(-20, 60)), min_size=5, max_size=20),
        st.floats(-20, 60),
        st.floats(0, 60),
        st.booleans(),
    )
    def test_a_passing_seam_lies_under_the_limit_everywhere(self, readings, background, open_level, ring):
        points = [SeamPoint(STEP * i, level, own) for i, (level, own) in enumerate(readings)]
        levels = [level for level, _ in readings]

        result = seal_test(
            walk(levels, ring=ring, points=points, open_level_db=open_level, background=background)
        )

        if result.verdict is Verdict.PASS:
            assert all(point.drop_db >= 20.0 - 1e-6 for point in result.points)
            assert open_level - background >= 20.0 - 1e-6
            assert max(levels) <= open_level - 20.0 + 3.0206

    @given(st.lists(st.floats(0, 60), min_size=5, max_size=30), st.floats(0.1, 20))
    def test_more_noise_from_the_source_never_fails_a_seam(self, levels, louder):
        plain, better = (seal_test(walk(levels, open_level_db=52.0 + more)) for more in (0.0, louder))

        assert len(places(better, Verdict.FAIL)) <= len(places(plain, Verdict.FAIL))

    @given(st.lists(st.floats(0, 60), min_size=5, max_size=30))
    def test_the_intact_seam_is_the_median(self, levels):
        result = seal_test(walk(levels, background=-60.0))

        assert result.intact_level_db == statistics.median(levels)
