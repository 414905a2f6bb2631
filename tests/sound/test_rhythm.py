"""Rhythmic, irregular or smooth; and which part beats."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.sound.rhythm import Character, Line, Match, character, fundamental_hz, hits

TRAIN = tuple(Line(order * 107.4, 20.0 - order) for order in range(1, 6))
LINES = st.lists(st.builds(Line, st.floats(2, 600), st.floats(3, 60)), max_size=12)


class TestFundamental:
    def test_is_the_lowest_line_that_divides_the_strongest(self):
        lines = (Line(31.0, 9), Line(53.7, 6), Line(107.4, 20), Line(214.8, 18))

        assert fundamental_hz(lines) == 53.7

    def test_is_not_a_low_line_that_would_divide_anything(self):
        assert fundamental_hz((Line(3.0, 6), Line(107.4, 20))) == 107.4

    def test_of_no_lines(self):
        assert fundamental_hz(()) is None

    @given(LINES.filter(bool))
    def test_is_one_of_the_lines_and_not_above_the_strongest(self, lines):
        found = fundamental_hz(lines)

        assert found in {line.frequency_hz for line in lines}
        assert found <= max(lines, key=lambda line: line.above_floor_db).frequency_hz


class TestCharacter:
    @pytest.mark.parametrize(
        ("lines", "kurtosis", "expected"),
        [
            (TRAIN, None, Character.RHYTHMIC),
            ((), 4.6, Character.IRREGULAR),
            ((), 4.5, Character.SMOOTH),
            ((), None, Character.UNDETERMINED),
        ],
    )
    def test_is(self, lines, kurtosis, expected):
        assert character(lines, kurtosis)[0] is expected

    def test_smooth_is_no_all_clear(self):
        assert "doesn't prove" in character((), 3.0)[1][0].text


class TestHits:
    PARTS = {"outer ring": 107.0, "inner ring": 162.0}

    def test_tell_the_part_that_beats(self):
        outer, inner = hits(TRAIN, self.PARTS)

        assert (outer.match, [one.order for one in outer.harmonics]) == (Match.FOUND, [1, 2, 3, 4, 5])
        assert inner.match is not Match.FOUND

    @pytest.mark.parametrize(("offset", "match"), [(0.0199, Match.FOUND), (0.0201, Match.NOT_FOUND)])
    def test_search_two_per_cent(self, offset, match):
        assert hits((Line(100 * (1 + offset), 12),), {"part": 100.0})[0].match is match

    def test_search_at_least_three_quarters_of_a_bin(self):
        assert hits((Line(10.7, 12),), {"cage": 10.0})[0].match is Match.FOUND

    def test_do_not_take_a_multiple_for_the_part(self):
        assert hits(TRAIN, {"element": 53.7})[0].match is Match.HIGHER_ORDERS

    def test_know_lines_that_another_part_explains(self):
        outer, inner = hits(TRAIN, {"outer ring": 107.0, "inner ring": 162.0})

        assert (outer.match, inner.match) == (Match.FOUND, Match.ANOTHERS)
        assert [one.order for one in inner.harmonics] == [2]

    def test_count_sidebands(self):
        lines = (Line(132.2, 8), Line(162.0, 15), Line(191.8, 9), Line(324.0, 12), Line(294.2, 6))

        inner = hits(lines, {"inner ring": 162.0}, {"inner ring": 29.8})[0]
        assert [(one.order, one.sidebands) for one in inner.harmonics] == [(1, 2), (2, 1)]

    def test_name_what_fits_as_well(self):
        hit = hits((Line(100.2, 14),), {"outer ring": 99.5, "twice the mains": 100.0, "shaft": 25.0})[0]

        assert hit.fits_as_well == ("twice the mains",)

    @given(LINES, st.dictionaries(st.text(max_size=5), st.floats(0.1, 1000), max_size=5))
    def test_lie_in_the_bands_they_state(self, lines, parts):
        for hit in hits(lines, parts):
            for one in hit.harmonics:
                reach = max(0.02 * one.order * hit.frequency_hz, 0.75)
                assert abs(one.frequency_hz - one.order * hit.frequency_hz) <= reach
