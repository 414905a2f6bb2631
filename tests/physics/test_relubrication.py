"""Charge and interval of a relubrication."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.relubrication import (
    BearingType,
    Duty,
    Shaft,
    duty_factor,
    grease_charge,
    relubrication_interval,
)

HOT = 343.15
PLAIN = Duty(HOT)


def interval(rpm=1500.0, bore_mm=50.0, bearing=BearingType.BALL, duty=PLAIN, **options):
    return relubrication_interval(rpm / 60.0, bore_mm / 1000.0, bearing, duty, **options)


def codes(estimate):
    return {reason.code for reason in estimate.reasons}


class TestCharge:
    @pytest.mark.parametrize(("outer", "width", "grams"), [(110, 27, 14.85), (52, 15, 3.90)])
    def test_follows_the_size(self, outer, width, grams):
        # 0.005 D B g of the handbooks, computed for boundary dimensions of two common sizes.
        assert grease_charge(outer / 1000, width / 1000).value * 1000 == pytest.approx(grams)

    def test_says_that_it_is_a_rule_of_thumb(self):
        charge = grease_charge(0.11, 0.027)

        assert (charge.u / charge.value, codes(charge)) == (pytest.approx(0.2), {"rule_of_thumb"})

    @pytest.mark.parametrize(
        ("outer", "width"),
        [(0.0, 0.02), (0.1, -1.0), (math.nan, 0.02), (0.1, math.inf), (4.0, 0.02), (0.1, 1e-300)],
    )
    def test_is_refused(self, outer, width):
        assert grease_charge(outer, width).value is None


class TestInterval:
    @pytest.mark.parametrize(
        ("rpm", "bore", "bearing", "hours"),
        [
            (1500, 50, BearingType.BALL, 11199.3),
            (1500, 100, BearingType.SPHERICAL_TAPERED_OR_THRUST, 533.3),
        ],
    )
    def test_follows_speed_and_bore(self, rpm, bore, bearing, hours):
        # k (14e6 / (n sqrt d) - 4 d) of a technical guide, computed.
        assert interval(rpm, bore, bearing).value / 3600 == pytest.approx(hours, abs=0.05)

    def test_is_refused_where_the_formula_turns_negative(self):
        result = interval(12000, 120, BearingType.SPHERICAL_TAPERED_OR_THRUST)

        assert (result.value, codes(result)) == (None, {"formula_out_of_range"})

    def test_is_refused_beyond_the_bearings_own_limit(self):
        result = interval(1500, speed_limit_hz=24.0)

        assert (result.value, codes(result)) == (None, {"speed_beyond_limit"})

    @pytest.mark.parametrize(
        ("duty", "code"),
        [
            (Duty(400.0), "temperature_out_of_range"),
            (Duty(math.nan), "temperature_out_of_range"),
            (Duty(HOT, vibration_factor=0.0), "factor_out_of_range"),
            (Duty(HOT, contamination_factor=1.5), "factor_out_of_range"),
        ],
    )
    def test_is_refused_for_an_impossible_duty(self, duty, code):
        assert codes(interval(duty=duty)) == {code}

    @pytest.mark.parametrize("rpm", [0.0, -1.0, 1e-300, math.nan, math.inf])
    def test_is_refused_without_a_speed(self, rpm):
        assert codes(interval(rpm)) == {"speed_too_low"}

    def test_never_tops_the_longest(self):
        result = interval(100, 20)

        assert (result.value / 3600, "capped" in codes(result)) == (32000, True)

    def test_says_what_was_not_known(self):
        assert {"speed_limit_unknown", "temperature_assumed"} <= codes(interval(duty=Duty()))

    @given(
        rpm=st.floats(50, 4000),
        bore=st.floats(10, 150),
        bearing=st.sampled_from(BearingType),
        kelvin=st.floats(280, 390),
        more=st.floats(0, 100),
    )
    def test_is_never_longer_for_a_faster_or_hotter_bearing(self, rpm, bore, bearing, kelvin, more):
        result = interval(rpm, bore, bearing, Duty(kelvin))
        faster = interval(rpm + 10 * more, bore, bearing, Duty(kelvin))
        hotter = interval(rpm, bore, bearing, Duty(min(kelvin + more, 393.0)))

        assert (faster.value or 0.0) <= (result.value or 0.0) * (1 + 1e-12)
        assert (hotter.value or 0.0) <= (result.value or 0.0) * (1 + 1e-12)


class TestDuty:
    @pytest.mark.parametrize(
        ("duty", "factor"),
        [
            (Duty(HOT), 1.0),
            (Duty(HOT + 15), 0.5),
            (Duty(HOT + 30), 0.25),
            (Duty(HOT - 15), 2.0),
            (Duty(HOT - 60), 2.0),
            (Duty(HOT, Shaft.VERTICAL), 0.5),
            (Duty(HOT, vibration_factor=0.6, contamination_factor=0.5), 0.3),
        ],
    )
    def test_halves_for_heat_and_an_upright_shaft(self, duty, factor):
        # A handbook page on adjusting relubrication.
        assert duty_factor(duty) == pytest.approx(factor)
