"""What a walk says of an enclosure's condition, how its outline is drawn, and where to listen next."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.seal_test import Verdict
from findings.seals.rules import (
    SeamForm,
    condition_of,
    drawn,
    is_fault,
    judged_from,
    next_place_m,
    outline_problems,
    result_again,
    result_of,
    severity_of,
    told,
    worst_place,
)

TIGHT = (18.0,) * 9


def inputs(levels=TIGHT, *, background_db=5.0, criterion="amplitude", step_m=0.5, **changes):
    given_ = {
        "length_m": 4.0,
        "ring": False,
        "criterion": criterion,
        "open_level_db": 52.0,
        "background_db": background_db,
        "places": [(index * step_m, level, None) for index, level in enumerate(levels)],
    }
    return judged_from(**{**given_, **changes})


def loudest(level_db, **changes):
    return result_of(inputs((*TIGHT[:4], level_db, *TIGHT[5:]), **changes))


class TestSeverity:
    @pytest.mark.parametrize(
        ("level_db", "severity"),
        # The passing level is 32 dB: a tenth of the sound pressure, surveyors' practice on ships' hatches.
        # A fifth of it passes at 38 dB, a half at 46 dB (20 log10 of the ratio).
        [(32.1, 3), (38.0, 3), (38.1, 4), (46.0, 4), (46.1, 5), (52.0, 5)],
    )
    def test_of_a_failed_seam_grows_with_what_passes(self, level_db, severity):
        result = loudest(level_db)

        assert (result.verdict, severity_of(result)) == (Verdict.FAIL, severity)

    def test_of_the_others_is_by_the_verdict(self):
        found = {
            verdict: severity_of(result)
            for verdict, result in (
                (Verdict.PASS, result_of(inputs())),
                (Verdict.WATCH, loudest(28.0)),
                (Verdict.NOT_DETERMINED, result_of(inputs(TIGHT[:5]))),
            )
        }
        assert found == {Verdict.PASS: 1, Verdict.WATCH: 2, Verdict.NOT_DETERMINED: None}


class TestCondition:
    @pytest.mark.parametrize(
        ("levels", "state", "order_due", "opens"),
        [
            ((*TIGHT[:4], 40.0, *TIGHT[5:]), "fail", True, True),
            ((*TIGHT[:4], 28.0, *TIGHT[5:]), "watch", False, True),
            (TIGHT, "pass", False, False),
            (TIGHT[:5], "not_determined", None, False),
        ],
    )
    def test_says_what_follows(self, levels, state, order_due, opens):
        given_ = inputs(levels)
        found = condition_of(result_of(given_), given_)

        assert (found.state, found.order_due, found.opens_finding) == (state, order_due, opens)

    def test_writes_down_a_raised_place_of_a_seam_not_walked_whole(self):
        result = result_of(inputs((18.0, 18.0, 18.0, 28.0, 18.0, 18.0)))

        assert result.verdict is Verdict.NOT_DETERMINED
        assert is_fault(result)

    def test_keeps_inputs_that_give_the_same(self):
        given_ = inputs((*TIGHT[:4], 40.0, *TIGHT[5:]))
        found = condition_of(result_of(given_), given_)

        assert condition_of(result_of(found.inputs), found.inputs) == found


class TestKept:
    @given(st.lists(st.floats(0, 60), min_size=5, max_size=9))
    def test_figures_give_back_what_was_judged(self, levels):
        given_ = inputs(levels)
        result = result_of(given_)

        again = result_again(given_, result.verdict, told(given_, result))

        assert (again.points, again.leaks, again.gaps) == (result.points, result.leaks, result.gaps)

    def test_worst_place_is_loudest_without_its_own_background(self):
        places = [(0.0, 40.0, 39.0), (0.5, 38.0, None), (1.0, 20.0, None)]

        assert worst_place(inputs(places=places)) == (0.5, 38.0, 5.0)


class TestOutline:
    def test_of_nothing_is_right(self):
        assert outline_problems({}, 4.0, ring=True) == []

    @pytest.mark.parametrize(
        ("outline", "ring", "code"),
        [
            ({"width_m": 1.0, "corners_m": []}, True, "outline_mixed"),
            ({"colour": "red"}, True, "outline_mixed"),
            ({"width_m": 1.0}, True, "height_m_out_of_range"),
            ({"width_m": 1.0, "height_m": 1.0}, False, "frame_is_a_ring"),
            ({"width_m": 1.0, "height_m": 1.0, "start_corner": "middle"}, True, "corner_unknown"),
            ({"width_m": 1.0, "height_m": 1.0, "turn": "over"}, True, "turn_unknown"),
            ({"width_m": 1.0, "height_m": 2.0}, True, "outline_length"),
            ({"corners_m": [[0, 0], [1, 0]]}, True, "corner_count"),
            ({"corners_m": [[0, 0], [1]]}, False, "corner_unreadable"),
            ({"corners_m": [[0, 0], [0, 0], [4, 0]]}, False, "corners_coincide"),
            ({"corners_m": "nothing"}, False, "corner_count"),
        ],
    )
    def test_that_is_none_is_named(self, outline, ring, code):
        assert [problem.code for problem in outline_problems(outline, 4.0, ring=ring)] == [code]

    @pytest.mark.parametrize(
        ("corner", "turn", "first", "second"),
        [
            ("lower_left", "clockwise", (-1, 1), (-1, -1)),
            ("lower_left", "counterclockwise", (-1, 1), (1, 1)),
            ("upper_right", "clockwise", (1, -1), (1, 1)),
            ("upper_right", "counterclockwise", (1, -1), (-1, -1)),
        ],
    )
    def test_of_a_frame_begins_at_its_corner(self, corner, turn, first, second):
        # A square of 1 m: the second corner lies after a quarter of the seam.
        square = {"width_m": 1.0, "height_m": 1.0, "start_corner": corner, "turn": turn}
        outline = drawn(square, ring=True)

        sides = [(outline.spot(part).x - 320.0, outline.spot(part).y - 175.0) for part in (0.0, 0.25)]
        assert [(x > 0) - (x < 0) for x, _ in sides] == [first[0], second[0]]
        assert [(y > 0) - (y < 0) for _, y in sides] == [first[1], second[1]]

    @pytest.mark.parametrize("ring", [True, False])
    def test_of_any_path_stays_on_the_drawing(self, ring):
        outline = drawn({"corners_m": [[0, 0], [0, 2], [3, 2], [3, 1], [1, 0]]}, ring=ring)

        spots = outline.stretch(0.0, 1.0)
        assert all(0.0 <= spot.x <= 640.0 and 0.0 <= spot.y <= outline.height for spot in spots)

    def test_points_away_from_a_ring_whichever_way_it_is_walked(self):
        corners = [[0, 0], [0, 1], [1, 1], [1, 0]]
        left = drawn({"corners_m": corners}, ring=True).spot(0.125)
        bottom = drawn({"corners_m": corners[::-1]}, ring=True).spot(0.125)

        assert (left.out_x, left.out_y) == pytest.approx((-1.0, 0.0))
        assert bottom.out_x == pytest.approx(1.0)


class TestNextPlace:
    def test_begins_at_the_start(self):
        assert next_place_m([], 4.0, ring=True) == 0.0

    def test_lies_half_a_metre_on(self):
        assert next_place_m([0.0, 0.5], 4.0, ring=True) == 1.0

    def test_is_the_end_of_a_line_and_never_that_of_a_ring(self):
        assert next_place_m([3.6], 4.0, ring=False) == 4.0
        assert next_place_m([3.6], 4.0, ring=True) is None
        assert next_place_m([4.0], 4.0, ring=False) is None


def test_a_seam_is_a_ring_or_a_line():
    assert {form.value for form in SeamForm} == {"ring", "line"}
