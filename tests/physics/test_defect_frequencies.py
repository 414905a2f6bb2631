"""Defect frequencies of rolling bearings."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.defect_frequencies import Geometry, Ring, defect_frequencies

BEARINGS = st.builds(
    Geometry,
    st.integers(3, 20),
    st.just(0.01),
    st.floats(0.08, 0.5),
    st.floats(0.0, 1.2),
)


def values(geometry, shaft_hz, **options):
    found = defect_frequencies(geometry, shaft_hz, **options)
    return found.outer_ring.value, found.inner_ring.value, found.cage.value, found.element_spin.value


class TestPublished:
    def test_bearing_of_a_university_rig(self):
        # Case Western Reserve University, drive end: per turn 5.4152 inner, 3.5848 outer, 0.39828 cage,
        # 4.7135 element on both races; from memory. Geometry in inches from its page, from memory.
        found = defect_frequencies(Geometry(9, 0.3126 * 0.0254, 1.537 * 0.0254), 1.0)

        assert (found.inner_ring.value, found.outer_ring.value, found.cage.value) == pytest.approx(
            (5.4152, 3.5848, 0.39828), rel=3e-4
        )
        assert found.element_both.value == pytest.approx(4.7135, rel=3e-4)


class TestComputed:
    def test_with_a_contact_angle(self):
        assert values(Geometry(8, 0.002, 0.012, math.radians(15)), 25.0) == pytest.approx(
            (83.901, 116.099, 10.488, 73.056), abs=1e-3
        )

    def test_of_a_motor_bearing(self):
        outer = values(Geometry(9, 0.00794, 0.03904), 1797 / 60)[0]

        assert outer == pytest.approx(107.364, abs=1e-3)

    def test_of_a_fan_bearing(self):
        assert values(Geometry(8, 0.00792, 0.03455), 35.0) == pytest.approx(
            (107.907, 172.093, 13.488, 72.330), abs=1e-3
        )


class TestIdentities:
    @given(BEARINGS, st.floats(0.1, 500))
    def test_both_rings_share_the_passes(self, geometry, shaft_hz):
        outer, inner, cage, _ = values(geometry, shaft_hz)

        assert outer + inner == pytest.approx(geometry.elements * shaft_hz)
        assert outer == pytest.approx(geometry.elements * cage)

    @given(BEARINGS, st.floats(0.1, 500))
    def test_a_turning_outer_ring_changes_the_cage_only(self, geometry, shaft_hz):
        inner_turns, outer_turns = (values(geometry, shaft_hz, rotating=ring) for ring in Ring)

        assert (inner_turns[0], inner_turns[1], inner_turns[3]) == (
            outer_turns[0],
            outer_turns[1],
            outer_turns[3],
        )
        assert inner_turns[2] + outer_turns[2] == pytest.approx(shaft_hz)

    @given(BEARINGS, st.floats(0.1, 500), st.floats(0, 0.2))
    def test_the_band_of_slip_holds_the_frequency(self, geometry, shaft_hz, slip):
        spin = defect_frequencies(geometry, shaft_hz, slip=slip).element_spin

        assert (spin.low, spin.high) == pytest.approx((spin.value * (1 - slip), spin.value * (1 + slip)))


class TestRefusals:
    @pytest.mark.parametrize(
        ("geometry", "code"),
        [
            (Geometry(2, 0.002, 0.012), "elements_out_of_range"),
            (Geometry(8, 0.012, 0.012), "diameters_unfit"),
            (Geometry(8, 0.0, 0.012), "diameters_unfit"),
            (Geometry(8, 1e-300, 0.012), "diameters_unfit"),
            (Geometry(8, 0.002, math.nan), "diameters_unfit"),
            (Geometry(8, 0.002, math.inf), "diameters_unfit"),
            (Geometry(30, 0.002, 0.012), "elements_do_not_fit"),
            (Geometry(8, 0.002, 0.012, math.pi / 2), "angle_out_of_range"),
        ],
    )
    def test_of_geometry_no_bearing_has(self, geometry, code):
        found = defect_frequencies(geometry, 25.0)

        assert (found.cage.value, {reason.code for reason in found.cage.reasons}) == (None, {code})

    @pytest.mark.parametrize("shaft_hz", [0.0, -1.0, math.nan, 1e9])
    def test_of_impossible_speeds(self, shaft_hz):
        assert values(Geometry(8, 0.002, 0.012), shaft_hz) == (None,) * 4
