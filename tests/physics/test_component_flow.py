"""Air through a component of known C and b."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.component_flow import component_flow
from findings.physics.gases import GASES
from findings.physics.leak_flow import Conditions, Opening, leak_flow
from findings.physics.orifice import critical_pressure_ratio
from findings.physics.uncertainty import Uncertain

ANY = st.floats(allow_nan=True, allow_infinity=True)


def flow(*, c=1e-8, b=0.3, c_u=0.0, b_u=0.0, upstream=8e5, downstream=101325.0, temperature=293.15, u=0.0):
    return component_flow(
        Uncertain(c, c_u),
        Uncertain(b, b_u),
        upstream_pa=Uncertain(upstream, u),
        downstream_pa=downstream,
        temperature_k=Uncertain(temperature),
    )


def codes(estimate):
    return {reason.code for reason in estimate.reasons}


class TestComponentFlow:
    def test_of_an_ideal_hole_is_the_nozzles(self):
        # Derived from the ideal nozzle: C = 0.1992 dm3/(s bar) per mm2 of effective area.
        hole = leak_flow(
            Opening(Uncertain(math.sqrt(4e-6 / math.pi)), own_coefficient=Uncertain(1.0)),
            Conditions(Uncertain(8e5), 101325.0, Uncertain(293.15)),
            GASES["air"],
        )

        assert flow(c=0.1992e-8, b=critical_pressure_ratio(1.4)).value == pytest.approx(hole.value, rel=1e-3)

    def test_chokes_at_its_own_ratio(self):
        choked, subsonic = flow(downstream=8e5 * 0.3), flow(downstream=8e5 * 0.31)

        assert (choked.inputs["regime"], subsonic.inputs["regime"]) == ("choked", "subsonic")

    def test_when_choked_is_as_unsure_as_conductance_and_pressure(self):
        estimate = flow(c_u=5e-10, b_u=0.05, u=8e3)

        assert estimate.u / estimate.value == pytest.approx(math.hypot(0.05, 0.01), rel=1e-6)

    @given(st.floats(min_value=1.1e5, max_value=2e6), st.floats(min_value=1.001, max_value=2.0))
    def test_grows_with_pressure(self, upstream, factor):
        assert flow(upstream=upstream * factor).value > flow(upstream=upstream).value

    def test_says_when_the_ratio_is_unusual(self):
        assert codes(flow(b=0.8)) == {"critical_ratio_unusual"}

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"c": 0.0}, "conductance_not_positive"),
            ({"c": 1.0}, "conductance_out_of_range"),
            ({"b": 1.0}, "critical_ratio_out_of_range"),
            ({"b": -0.1}, "critical_ratio_out_of_range"),
            ({"upstream": 9e4}, "no_pressure_difference"),
            ({"upstream": 101500.0}, "laminar"),
            ({"downstream": -1.0}, "pressure_below_vacuum"),
            ({"downstream": math.nan}, "not_finite"),
            ({"upstream": 5e7}, "pressure_out_of_range"),
            ({"temperature": 100.0}, "temperature_out_of_range"),
            ({"c_u": -1.0}, "uncertainty_negative"),
        ],
    )
    def test_is_refused(self, changes, code):
        assert code in codes(flow(**changes))

    @given(ANY, ANY, ANY, ANY, ANY)
    def test_of_any_number_is_a_value_or_a_refusal(self, c, b, upstream, downstream, u):
        estimate = flow(c=c, b=b, upstream=upstream, downstream=downstream, u=u)

        assert estimate.is_refused or estimate.value >= 0.0
