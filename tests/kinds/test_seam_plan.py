"""The plan of a seam as SVG text."""

import pytest
from defusedxml import ElementTree
from hypothesis import given
from hypothesis import strategies as st

from findings.kinds.seam_outline import circle, frame, line
from findings.kinds.seam_plan import seam_plan, seam_stretches
from findings.physics.seal_test import SeamPoint, Walk, seal_test
from findings.physics.seam import Seam

LEVELS = (18, 18, 18, 24.7, 39.0, 39.3, 25.4, 18, 18, 18.1, 19.6, 23.9, 24.5, 20.4, 18.1, 18, 18)
SVG = "{http://www.w3.org/2000/svg}"
WALKS = st.tuples(
    st.lists(st.tuples(st.integers(0, 400), st.floats(0, 60)), min_size=5, max_size=30), st.booleans()
)


def walked(points, *, ring=False, length=4.0):
    seam = Seam(length, ring)
    walk = Walk(seam=seam, open_level_db=52.0, background_db=5.0, points=[SeamPoint(*p) for p in points])
    return seam, seal_test(walk)


def usual(*, ring=False):
    return walked(
        [(0.25 * i, level) for i, level in enumerate(LEVELS)], ring=ring, length=4.25 if ring else 4
    )


def words(svg):
    return [text.text for text in ElementTree.fromstring(svg).iter(f"{SVG}text")]


class TestSeamPlan:
    def test_numbers_and_lists_each_leak(self):
        said = words(seam_plan(*usual(), title="Cabinet door"))

        assert {"1", "2"} <= set(said)
        assert [text[:17] for text in said if text.startswith(("1:", "2:"))] == [
            "1: fail at 1.13 m",
            "2: watch at 2.91 ",
        ]

    def test_has_a_word_for_every_stroke(self):
        svg = seam_plan(*walked([(0.25 * i, level) for i, level in enumerate(LEVELS[:12])]), title="Door")

        drawn = {line.get("class") for line in ElementTree.fromstring(svg).iter(f"{SVG}polyline")}
        assert {name.removeprefix("seam-").replace("-", " ") for name in drawn} <= set(words(svg))
        assert "seam-not-walked" in drawn

    @given(st.text())
    def test_takes_any_title(self, title):
        root = ElementTree.fromstring(seam_plan(*usual(), title=title))

        assert {child.tag for child in root} <= {
            SVG + tag for tag in ("title", "desc", "polyline", "line", "circle", "text")
        }

    def test_keeps_a_title_a_text(self):
        svg = seam_plan(*usual(), title='<script>alert("1")</script>&')

        assert "<script" not in svg
        assert ElementTree.fromstring(svg).find(f"{SVG}title").text == '<script>alert("1")</script>&'

    def test_without_leaks_says_how_sure_that_is(self):
        whole = [(0.5 * i, 18.0) for i in range(9)]

        assert "No leak for sound found where the seam was walked." in words(
            seam_plan(*walked(whole), title="")
        )
        assert "No leak found, but that was not determined for the whole seam." in words(
            seam_plan(*walked(whole[:6]), title="")
        )

    def test_lists_only_so_many(self):
        saw = [(0.1 * i, 45.0 if i % 2 else 30.0) for i in range(200)]

        assert "and 70 more" in words(seam_plan(*walked(saw, length=20.0), title=""))

    @given(WALKS, st.none() | st.tuples(st.floats(0.01, 10), st.floats(0.01, 10)))
    def test_of_any_walk_is_drawn(self, walk, door):
        seam, result = walked([(place / 100, level) for place, level in walk[0]], ring=walk[1])
        if result.points:
            svg = seam_plan(seam, result, title="Door", door=door)

            assert ElementTree.fromstring(svg).tag == f"{SVG}svg"
            assert "nan" not in svg


class TestStretches:
    @given(WALKS)
    def test_cover_the_seam_once(self, walk):
        seam, result = walked([(place / 100, level) for place, level in walk[0]], ring=walk[1])
        if result.points:
            stretches = seam_stretches(seam, result)

            assert sum(one.end_m - one.start_m for one in stretches) == pytest.approx(seam.length_m)


class TestOutline:
    @pytest.mark.parametrize("outline", [line(), circle(), frame(0.9, 2.1), frame(5.0, 0.1)])
    def test_stays_on_the_drawing(self, outline):
        spots = outline.stretch(0.0, 1.0)

        assert all(0.0 <= spot.x <= 640.0 and 0.0 <= spot.y <= outline.height for spot in spots)

    @pytest.mark.parametrize("outline", [circle(), frame(0.9, 2.1)])
    def test_of_a_ring_closes(self, outline):
        first, last = outline.spot(0.0), outline.spot(1.0)

        assert (first.x, first.y) == pytest.approx((last.x, last.y))

    def test_of_a_door_turns_its_corners(self):
        # 0.9 m by 2.1 m: the upper left corner lies after 2.1 of 6 m.
        door = frame(0.9, 2.1)

        assert (door.spot(0.35).x, door.spot(0.35).y) == pytest.approx(
            (min(spot.x for spot in door.stretch(0, 1)), min(spot.y for spot in door.stretch(0, 1)))
        )
