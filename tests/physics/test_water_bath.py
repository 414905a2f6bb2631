"""A cylinder over water, and bubbles."""

import math

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.estimate import Status
from findings.physics.uncertainty import Uncertain
from findings.physics.water_bath import LEVEL_WITH_THE_BATH, bubble_flow, cylinder_flow, vapour_pressure_pa

ANY = st.floats(allow_nan=True, allow_infinity=True)


def cylinder(times=(60.0, 61.0, 59.0), *, temperature=293.15, level=LEVEL_WITH_THE_BATH, **more):
    return cylinder_flow(
        Uncertain(1e-3, 1e-5),
        times,
        0.5,
        atmosphere_pa=Uncertain(101325.0, 100.0),
        temperature_k=Uncertain(temperature, 1.0),
        level_m=level,
        **more,
    )


def bubbles(count=60, seconds=60.0, width=0.004, *, width_u=0.0):
    return bubble_flow(
        count, Uncertain(seconds), Uncertain(width, width_u), atmosphere_pa=101325.0, temperature_k=293.15
    )


def codes(estimate):
    return {reason.code for reason in estimate.reasons}


class TestVapourPressure:
    @pytest.mark.parametrize("celsius", [1.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0])
    def test_is_that_of_the_open_property_library(self, celsius):
        kelvin = celsius + 273.15

        # Measured: within 0.13 % of CoolProp 8.0 from 0 °C to 60 °C.
        assert vapour_pressure_pa(kelvin) == pytest.approx(
            PropsSI("P", "T", kelvin, "Q", 0, "Water"), rel=2e-3
        )


class TestCylinder:
    def test_counts_dry_gas_only(self):
        # Computed by hand: 1 l/min, less 2.337 kPa of vapour at 20 °C (ISO 9613-1).
        assert cylinder().value * 60000 == pytest.approx((101.325 - 2.337) / 100, abs=2e-5)

    def test_takes_off_the_head_of_a_raised_level(self):
        # Computed by hand: 0.1 m of water is 979 Pa.
        raised = cylinder(level=Uncertain(0.1))

        assert 1 - raised.value / cylinder().value == pytest.approx(979 / 98988, rel=1e-3)

    def test_adds_the_head_of_a_lowered_level(self):
        assert cylinder(level=Uncertain(-0.1)).value > cylinder().value

    def test_carries_every_uncertainty(self):
        # Computed: 1 %, 0.5 s of 60 s, 100 Pa of the dry pressure, 1 K through volume and vapour.
        vapour = (vapour_pressure_pa(294.15) - vapour_pressure_pa(292.15)) / 2 / 98988
        expected = math.hypot(0.01, 0.5 / 60, 100 / 98988, 1 / 293.15 + vapour)

        assert cylinder().u / cylinder().value == pytest.approx(expected, rel=1e-3)

    def test_is_measured(self):
        assert cylinder().status is Status.MEASURED

    def test_says_that_a_gas_dissolves(self):
        assert codes(cylinder(gas="carbon_dioxide")) == {"gas_dissolves"}

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"times": (4.0, 4.0, 4.0)}, "cylinder_time_too_short"),
            ({"times": (60.0, 70.0, 50.0)}, "cylinder_runs_differ"),
            ({"temperature": 272.0}, "water_temperature_out_of_range"),
            ({"temperature": 340.0}, "water_temperature_out_of_range"),
            ({"level": Uncertain(6.0)}, "level_out_of_range"),
            ({"level": Uncertain(0.0, -0.1)}, "uncertainty_negative"),
            ({"level": Uncertain(math.nan)}, "not_finite"),
        ],
    )
    def test_is_refused(self, changes, code):
        assert code in codes(cylinder(**changes))

    def test_is_refused_where_water_outweighs_the_air(self):
        estimate = cylinder_flow(
            Uncertain(1e-3),
            [60.0],
            0.5,
            atmosphere_pa=Uncertain(4e4),
            temperature_k=Uncertain(293.15),
            level_m=Uncertain(4.5),
        )

        assert "no_gas_pressure" in codes(estimate)

    @given(ANY, ANY, ANY, ANY)
    def test_of_any_number_is_a_value_or_a_refusal(self, time, temperature, level, u):
        estimate = cylinder((time,), temperature=temperature, level=Uncertain(level, u))

        assert estimate.is_refused or estimate.value >= 0.0


class TestBubbles:
    def test_give_one_digit(self):
        # Computed: one bubble of 4 mm a second is 3.35e-8 m3/s; at 1 bar 3.4e-8, one digit 3e-8.
        assert bubbles().value == 3e-8

    def test_are_never_surer_than_their_width(self):
        # Computed: 20 % three times over, and the root of 60 counted.
        relative = math.hypot(0.6, 1 / math.sqrt(60))

        assert bubbles().u == pytest.approx(relative * math.pi / 6 * 0.004**3 * 1.01325, rel=1e-9)

    def test_span_about_a_decade(self):
        assert 8.0 < bubbles().high / bubbles().low < 12.0

    def test_are_less_sure_where_the_width_is(self):
        assert bubbles(width_u=0.002).high > bubbles().high

    def test_say_that_they_are_a_class(self):
        assert (codes(bubbles()), bubbles().status) == ({"class_only"}, Status.ESTIMATED)

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"count": 700}, "bubbles_too_fast"),
            ({"count": 0}, "bubbles_out_of_range"),
            ({"count": 10**400}, "bubbles_out_of_range"),
            ({"width": 0.03}, "bubble_out_of_range"),
            ({"seconds": 0.0}, "duration_not_positive"),
            ({"width": math.nan}, "not_finite"),
            ({"width_u": -1.0}, "uncertainty_negative"),
        ],
    )
    def test_are_refused(self, changes, code):
        assert code in codes(bubbles(**changes))

    @given(st.integers(), ANY, ANY, ANY)
    def test_of_any_number_are_a_class_or_a_refusal(self, count, seconds, width, u):
        estimate = bubbles(count, seconds, width, width_u=u)

        assert estimate.is_refused or estimate.low <= estimate.value <= estimate.high
