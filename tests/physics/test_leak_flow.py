"""The flow of one leak: what is refused, what is said, how sure it is."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.estimate import Status
from findings.physics.gases import GASES
from findings.physics.leak_flow import Conditions, Edge, Opening, leak_flow
from findings.physics.reference_states import STATES, convert_flow
from findings.physics.uncertainty import Uncertain, monte_carlo

ATMOSPHERE_PA = 101325.0


def estimate_of(
    *,
    diameter=0.001,
    u_diameter=0.0,
    edge=Edge.SHARP,
    own=None,
    upstream=801325.0,
    downstream=ATMOSPHERE_PA,
    **more,
):
    return leak_flow(
        Opening(Uncertain(diameter, u_diameter), edge, own),
        Conditions(
            Uncertain(upstream, more.pop("u_pressure", 0.0)),
            downstream,
            Uncertain(more.pop("temperature", 293.15), more.pop("u_temperature", 0.0)),
        ),
        GASES[more.pop("gas", "air")],
        **more,
    )


class TestLeakFlow:
    def test_reproduces_the_table_of_one_millimetre_at_seven_bar(self):
        # Computed: 75.006 l/min at 1 bar 20 °C with a coefficient of 1.
        estimate = estimate_of(own=Uncertain(1.0))

        assert estimate.value * 60000 == pytest.approx(75.006, abs=6e-4)

    def test_has_the_uncertainty_of_the_closed_formula(self):
        # Computed by JCGM 100 and by 1e6 draws: 0.1517 m3/min, 18.2 %.
        estimate = estimate_of(
            diameter=0.0016, u_diameter=0.0001, own=Uncertain(0.79, 0.104), u_pressure=1e4, u_temperature=3.0
        )

        assert (estimate.value * 60, estimate.u / estimate.value) == pytest.approx((0.1517, 0.182), abs=5e-4)

    def test_agrees_with_repeated_draws(self):
        # Computed by JCGM 101 with 1e6 draws: mean 0.1523 m3/min, 95 % from 0.104 to 0.210.
        def draw(source: random.Random) -> float:
            diameter = source.gauss(0.0016, 0.0001)
            coefficient = source.uniform(0.61, 0.97)
            upstream = source.gauss(801325.0, 1e4)
            temperature = source.gauss(293.15, 3.0)
            choked = 0.040415 * coefficient * math.pi / 4 * diameter**2 * upstream / math.sqrt(temperature)
            return choked / 1.1884 * 60

        mean, bounds = monte_carlo(draw, draws=100_000, seed=1)

        assert (mean.value, *bounds) == pytest.approx((0.1523, 0.104, 0.210), abs=1.5e-3)

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"upstream": ATMOSPHERE_PA}, "no_pressure_difference"),
            ({"upstream": 9e4}, "no_pressure_difference"),
            ({"upstream": -5.0}, "pressure_below_vacuum"),
            ({"downstream": -1.0}, "pressure_below_vacuum"),
            ({"upstream": 4.1e7}, "pressure_out_of_range"),
            ({"temperature": 199.9}, "temperature_out_of_range"),
            ({"temperature": 20.0}, "temperature_out_of_range"),
            ({"temperature": 600.1}, "temperature_out_of_range"),
            ({"diameter": 0.0}, "diameter_out_of_range"),
            ({"diameter": -0.001}, "diameter_out_of_range"),
            ({"diameter": 0.026}, "diameter_out_of_range"),
            ({"own": Uncertain(1.2)}, "discharge_coefficient_out_of_range"),
            ({"u_diameter": -0.1}, "uncertainty_negative"),
            ({"u_diameter": 0.0011}, "uncertainty_too_large"),
            ({"gas": "propane", "temperature": 0.0}, "temperature_out_of_range"),
            ({"gas": "propane", "temperature": 1e-300}, "temperature_out_of_range"),
            ({"diameter": math.nan}, "not_finite"),
            ({"upstream": math.inf}, "not_finite"),
            ({"gas": "propane", "upstream": 9e5}, "may_be_liquid"),
            ({"gas": "carbon_dioxide", "upstream": 6e6}, "may_be_liquid"),
        ],
    )
    def test_is_refused(self, changes, code):
        estimate = estimate_of(**changes)

        assert (estimate.value, estimate.status, code in {r.code for r in estimate.reasons}) == (
            None,
            Status.REFUSED,
            True,
        )

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"edge": Edge.UNKNOWN}, "edge_unknown"),
            ({"edge": Edge.SHARP}, "sharp_edge_convention"),
            ({"gas": "propane", "upstream": 5e5}, "ideal_gas_error"),
            ({"upstream": 103325.0, "u_pressure": 1500.0}, "pressure_difference_unsure"),
        ],
    )
    def test_says_what_it_assumed(self, changes, code):
        assert code in {reason.code for reason in estimate_of(**changes).reasons}

    @pytest.mark.parametrize(("upstream", "regime"), [(801325.0, "choked"), (150000.0, "subsonic")])
    def test_names_its_regime(self, upstream, regime):
        assert estimate_of(upstream=upstream).inputs["regime"] == regime

    def test_of_an_uncertain_gas_is_less_sure(self):
        assert estimate_of(gas_relative_u=0.04).u > estimate_of().u

    @given(st.sampled_from(list(STATES.values())), st.floats(min_value=1e-4, max_value=0.025))
    def test_is_the_same_mass_at_every_reference_state(self, state, diameter):
        own = estimate_of(diameter=diameter)

        other = estimate_of(diameter=diameter, state=state)

        assert other.value == pytest.approx(convert_flow(own.value, STATES["bar20"], state), rel=1e-12)

    @given(
        st.sampled_from(list(GASES)),
        st.floats(min_value=0, max_value=0.03),
        st.floats(min_value=0),
        st.floats(min_value=0, max_value=5e7),
        st.floats(min_value=0, max_value=2e5),
    )
    def test_in_the_usual_range_is_a_value_or_a_refusal(self, gas, diameter, u, upstream, downstream):
        estimate = estimate_of(
            gas=gas, diameter=diameter, u_diameter=u, upstream=upstream, downstream=downstream, u_pressure=u
        )

        assert estimate.is_refused or estimate.low <= estimate.value <= estimate.high

    @given(
        st.floats(allow_nan=True),
        st.floats(allow_nan=True),
        st.floats(allow_nan=True),
        st.floats(allow_nan=True),
    )
    def test_of_any_number_is_a_value_inside_its_interval_or_a_refusal(
        self, diameter, upstream, temperature, u
    ):
        estimate = estimate_of(diameter=diameter, upstream=upstream, temperature=temperature, u_diameter=u)

        assert estimate.is_refused or 0.0 <= estimate.low <= estimate.value <= estimate.high
