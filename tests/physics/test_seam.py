"""Seams as lines and rings."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.seam import Seam, gaps, peaks

LINE, RING = Seam(4.0, ring=False), Seam(4.0, ring=True)


def places_of(found):
    return [peak.position.value for peak in found]


def all_raised(seam, positions, levels):
    return peaks(seam, positions, levels, [True] * len(levels))


class TestPeaks:
    def test_finds_the_top_of_a_parabola(self):
        positions = [0.0, 0.5, 1.0, 1.5, 2.0]

        (peak,) = all_raised(Seam(2.0, ring=False), positions, [40 - 15 * (s - 1.12) ** 2 for s in positions])

        assert (peak.position.value, peak.level_db) == pytest.approx((1.12, 40.0))

    @given(
        st.integers(60, 340).map(lambda hundredths: hundredths / 100),
        st.lists(st.floats(0.0, 4.0), min_size=5, max_size=20),
    )
    def test_finds_it_at_uneven_places(self, top, positions):
        places = (*positions, 0.0, top - 0.3, top + 0.2, 4.0)
        positions = sorted({round(place, 2) for place in places})

        (peak,) = all_raised(LINE, positions, [40 - 15 * (place - top) ** 2 for place in positions])

        assert (peak.position.value, peak.level_db) == pytest.approx((top, 40.0), abs=1e-6)
        assert peak.position.low <= top <= peak.position.high

    def test_at_the_end_of_a_line_is_the_end(self):
        (peak,) = all_raised(LINE, [0.0, 1.0, 2.0], [30.0, 20.0, 10.0])

        assert (peak.position.value, peak.position.low, peak.position.high) == (0.0, 0.0, 1.0)

    def test_never_lies_far_above_what_was_read(self):
        (peak,) = all_raised(LINE, [0.0, 2.0, 2.001], [10.0, 40.0, 39.0])

        assert (peak.position.value, peak.level_db) == (2.0, 40.0)

    def test_runs_over_the_beginning_of_a_ring(self):
        levels = [38.0, 30.0, 10.0, 10.0, 10.0, 10.0, 30.0, 38.0]
        positions = [0.2 + 0.5 * step for step in range(8)]

        (peak,) = peaks(RING, positions, levels, [level > 20 for level in levels])

        assert peak.position.value == pytest.approx(3.95)

    def test_counts_once_where_the_whole_ring_is_raised(self):
        levels = [38.0, 30.0, 25.0, 24.0, 24.0, 25.0, 30.0, 37.9]

        assert len(all_raised(RING, [0.5 * step for step in range(8)], levels)) == 1

    def test_counts_two_beyond_a_dip(self):
        levels = [20.0, 38.0, 34.0, 39.0, 20.0]

        assert len(all_raised(LINE, [0, 1, 2, 3, 4], levels)) == 2

    def test_counts_one_over_a_ripple(self):
        levels = [20.0, 38.0, 36.5, 39.0, 20.0]

        assert len(all_raised(LINE, [0, 1, 2, 3, 4], levels)) == 1

    def test_of_a_plateau_is_one(self):
        assert len(all_raised(RING, [0.0, 1.0, 2.0, 3.0], [30.0] * 4)) == 1

    def test_of_nothing_raised_is_none(self):
        assert peaks(LINE, [0.0, 1.0], [10.0, 10.0], [False, False]) == ()

    @given(
        st.lists(st.tuples(st.floats(0, 60), st.booleans()), min_size=3, max_size=24),
        st.integers(0, 23),
    )
    def test_turn_with_the_ring(self, points, turn):
        count = len(points)
        turned = points[turn % count :] + points[: turn % count]
        step = 4.0 / count
        grid = [step * index for index in range(count)]

        plain, moved = (peaks(RING, grid, *zip(*series, strict=True)) for series in (points, turned))

        assert (
            sorted(peak.level_db for peak in plain)
            == pytest.approx(sorted(peak.level_db for peak in moved), abs=1e-6)
            or len({level for level, _ in points}) < count
        )

    @given(st.lists(st.tuples(st.floats(-50, 90), st.booleans()), max_size=24), st.booleans())
    def test_lie_on_the_seam(self, points, ring):
        levels, raised = ([pair[part] for pair in points] for part in (0, 1))
        grid = [4.0 * index / max(len(points), 1) for index in range(len(points))]

        found = peaks(Seam(4.0, ring=ring), grid, levels, raised)

        assert all(0.0 <= place < 4.0 + 1e-9 for place in places_of(found))
        assert bool(found) == any(raised)


class TestGaps:
    @pytest.mark.parametrize(
        ("seam", "positions", "expected"),
        [
            (LINE, [], ((0.0, 4.0),)),
            (LINE, [0.25, 0.75, 1.25, 1.75, 2.25, 2.75, 3.25, 3.75], ()),
            (LINE, [0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5], ((0.0, 0.5), (3.5, 4.0))),
            (LINE, [0.0, 0.5, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0], ((0.5, 1.5),)),
            (RING, [0.2, 0.7, 1.2, 1.7, 2.2, 2.7, 3.2, 3.7], ()),
            (RING, [0.4, 0.9, 1.4, 1.9, 2.4, 2.9, 3.4], ((3.4, 0.4),)),
        ],
    )
    def test_are_stretches_nobody_walked(self, seam, positions, expected):
        assert gaps(seam, positions, 0.5) == expected
