"""What a leak has to be to teach an instrument."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from findings.calibration.rules import NewLeak, normalised, problems_of
from tests.makers import NOW

LEAK = NewLeak(
    attachment="open_horn",
    gas="air",
    leak_family="hole",
    taken_at=NOW,
    level_db=66.0,
    background_db=40.0,
    distance_m=0.5,
    pressure_gauge_pa=607_950.0,
    flow_m3_per_s=3e-5,
    flow_u_m3_per_s=1e-6,
    flow_method="flow_meter",
)


def codes(**values) -> set[tuple[str, str]]:
    """Return member and code of what is wrong with a changed leak."""
    return {(problem.member, problem.code) for problem in problems_of(replace(LEAK, **values))}


class TestALeak:
    def test_heard_and_measured_teaches(self):
        assert codes() == set()

    @pytest.mark.parametrize(
        ("member", "value"),
        [
            ("attachment", "contact_probe"),
            ("attachment", ""),
            ("gas", "steam"),
            ("leak_family", "crack"),
            ("flow_method", "stated"),
        ],
    )
    def test_of_another_word_teaches_nothing(self, member, value):
        assert codes(**{member: value}) == {(member, "invalid_choice")}

    @pytest.mark.parametrize(
        ("member", "value"),
        [
            ("level_db", math.nan),
            ("level_db", 300.0),
            ("distance_m", 0.05),
            ("distance_m", 25.0),
            ("pressure_gauge_pa", 0.0),
            ("relative_humidity", 45.0),
            ("air_temperature_k", 20.0),
            ("band_centre_hz", 40.0),
            ("flow_m3_per_s", math.inf),
        ],
    )
    def test_outside_what_can_be_meant_teaches_nothing(self, member, value):
        assert codes(**{member: value}) == {(member, "out_of_range")}

    def test_three_decibels_above_the_background_teaches(self):
        assert codes(background_db=63.0) == set()

    def test_nearer_to_the_background_is_an_upper_bound_only(self):
        assert codes(background_db=63.1) == {("background_db", "background")}

    def test_without_a_flow_teaches_nothing(self):
        assert ("flow_m3_per_s", "out_of_range") in codes(flow_m3_per_s=0.0)

    @pytest.mark.parametrize("u", [0.0, 1e-5])
    def test_whose_flow_is_too_sure_or_too_unsure_teaches_nothing(self, u):
        assert codes(flow_u_m3_per_s=u) == {("flow_u_m3_per_s", "flow_uncertain")}

    def test_has_the_ratio_of_absolute_pressures(self):
        assert LEAK.pressure_ratio(101_325.0) == pytest.approx(7.0)


class TestItsLevel:
    def test_is_brought_to_one_metre(self):
        # 20 lg 0.5, and 1.318 dB/m of air at 40 kHz, 20 °C, 50 % (ISO 9613-1) that half a metre more takes.
        level, problems = normalised(LEAK, 101_325.0)

        assert (level, problems) == (pytest.approx(66.0 - 6.0206 - 0.5 * 1.3182, abs=1e-3), [])

    def test_has_its_background_taken_off(self):
        loud, _ = normalised(replace(LEAK, background_db=62.0), 101_325.0)
        quiet, _ = normalised(LEAK, 101_325.0)

        # 10 lg (10^6.6 - 10^6.2) is 2.2048 dB below 66 dB.
        assert quiet - loud == pytest.approx(2.2048, abs=1e-3)

    def test_tells_nothing_of_a_leak_that_sounds_no_louder_when_it_grows(self):
        # 1 m³/min at seven times the pressure is a hole of 4 mm.
        _, problems = normalised(replace(LEAK, flow_m3_per_s=1 / 60, flow_u_m3_per_s=1 / 2000), 101_325.0)

        assert {(problem.member, problem.code) for problem in problems} == {("flow_m3_per_s", "saturated")}

    def test_through_air_that_swallows_too_much_is_refused(self):
        _, problems = normalised(replace(LEAK, distance_m=19.0), 101_325.0)

        assert {(problem.member, problem.code) for problem in problems} == {("distance_m", "distance")}
