"""Measured and stated flows."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics import direct_flow
from findings.physics.estimate import Status
from findings.physics.gases import GASES
from findings.physics.reference_states import STATES
from findings.physics.uncertainty import Uncertain

ANY = st.floats(allow_nan=True, allow_infinity=True)


def bag(times=(14.2, 14.2, 14.2), *, time_u=0.4):
    return direct_flow.bag_flow(
        Uncertain(0.01, 0.0003),
        times,
        time_u,
        pressure_pa=Uncertain(98000.0, 500.0),
        temperature_k=Uncertain(300.0, 2.0),
    )


def decay(start_pa=8e5, end_pa=7e5, *, u=0.0, volume=4.0, **more):
    return direct_flow.pressure_decay_flow(
        Uncertain(volume),
        Uncertain(start_pa, u),
        Uncertain(end_pa, u),
        Uncertain(300.0),
        temperature_k=Uncertain(293.15),
        atmosphere_pa=101325.0,
        **more,
    )


def codes(estimate):
    return {reason.code for reason in estimate.reasons}


class TestStatedFlow:
    def test_is_carried_to_the_reference_state(self):
        estimate = direct_flow.stated_flow(1.0, 0.1, source_state=STATES["normal"])

        # Computed: (101 325 / 100 000)(293.15 / 273.15).
        assert estimate.value == pytest.approx(1.08744, abs=1e-5)

    def test_without_uncertainty_says_what_was_assumed(self):
        estimate = direct_flow.stated_flow(1.0, None)

        assert (estimate.u, codes(estimate)) == (pytest.approx(0.25), {"uncertainty_assumed"})

    @pytest.mark.parametrize("flow", [0.0, -1.0, math.nan, math.inf, 1e30])
    def test_is_refused(self, flow):
        assert direct_flow.stated_flow(flow, 0.1).value is None


class TestBag:
    def test_has_the_combined_uncertainty(self):
        # Computed: 3 %, 0.4 s of 14.2 s, 0.5 of 98 kPa and 2 of 300 K combine to 4.2 %.
        estimate = bag()

        assert estimate.u / estimate.value == pytest.approx(0.042, abs=5e-4)

    def test_is_measured(self):
        assert bag().status is Status.MEASURED

    def test_says_when_runs_are_few(self):
        assert codes(bag((14.2,))) == {"few_runs"}

    @pytest.mark.parametrize(
        ("times", "code"),
        [
            ((4.0, 4.1, 4.2), "bag_time_too_short"),
            ((10.0, 12.0, 11.0), "bag_runs_differ"),
            ((), "bag_time_too_short"),
        ],
    )
    def test_is_refused(self, times, code):
        assert code in codes(bag(times))


class TestPressureDecay:
    def test_gives_the_flow_at_the_start_pressure(self):
        assert decay().value == pytest.approx(4.0 * 8e5 * math.log(8 / 7) / (1e5 * 300))

    def test_gives_the_mean_where_the_leak_no_longer_chokes(self):
        estimate = decay(2.5e5, 1.5e5)

        assert (estimate.value, codes(estimate)) == (pytest.approx(4.0 * 1e5 / (1e5 * 300)), {"mean_flow"})

    @pytest.mark.parametrize(
        ("start_pa", "end_pa", "u", "code"),
        [
            (7e5, 8e5, 0.0, "no_pressure_fall"),
            (8e5, 9e4, 0.0, "no_pressure_fall"),
            (8e5, 7.9e5, 5000.0, "fall_too_small"),
            (math.nan, 7e5, 0.0, "not_finite"),
        ],
    )
    def test_is_refused(self, start_pa, end_pa, u, code):
        assert code in codes(decay(start_pa, end_pa, u=u))

    def test_takes_the_cooling_out(self):
        # Computed: 7 bar at 288.15 K are 7 x 293.15 / 288.15 bar at the start's temperature.
        drifted = decay(8e5, 7e5, end_temperature_k=Uncertain(288.15))

        assert drifted.value == pytest.approx(decay(8e5, 7e5 * 293.15 / 288.15).value)

    def test_of_a_drifting_temperature_is_less_sure(self):
        # Computed: 1 K of 293.15 K is 0.34 % of 7 bar, over ln(8/7).
        drifting = decay(end_temperature_k=Uncertain(293.15, 1.0))

        assert drifting.u / drifting.value == pytest.approx(1 / 293.15 / math.log(8 / 7), rel=1e-6)

    def test_counts_one_thermometers_error_once(self):
        # Computed: the flow goes with 1/T where both temperatures are off by the same.
        estimate = direct_flow.pressure_decay_flow(
            Uncertain(4.0),
            Uncertain(8e5),
            Uncertain(7e5),
            Uncertain(300.0),
            temperature_k=Uncertain(293.15, 5.0),
            end_temperature_k=Uncertain(293.15),
            atmosphere_pa=101325.0,
        )

        assert estimate.u / estimate.value == pytest.approx(5.0 / 293.15, rel=1e-6)

    def test_is_refused_where_cooling_explains_the_fall(self):
        assert codes(decay(8e5, 7.8e5, end_temperature_k=Uncertain(283.15))) == {"temperature_explains_fall"}

    @given(ANY, ANY, ANY, ANY)
    def test_of_any_number_is_a_value_or_a_refusal(self, start_pa, end_pa, u, volume):
        estimate = decay(start_pa, end_pa, u=u, volume=volume)

        assert estimate.is_refused or estimate.value >= 0.0


class TestLoadUnload:
    def test_gives_the_leaks_share_of_the_capacity(self):
        # Open textbook fluid-power-systems, chapter 6, example 5: 30 s on, 10 s off is 75 %.
        estimate = direct_flow.load_unload_flow([30.0] * 3, [10.0] * 3, Uncertain(0.1))

        assert estimate.value == pytest.approx(0.075)

    def test_says_when_cycles_are_few(self):
        assert codes(direct_flow.load_unload_flow([30.0], [10.0], Uncertain(0.1))) == {"few_cycles"}

    @pytest.mark.parametrize(("load", "unload"), [([], []), ([30.0], []), ([0.0], [10.0]), ([-1.0], [10.0])])
    def test_is_refused(self, load, unload):
        assert "cycles_incomplete" in codes(direct_flow.load_unload_flow(load, unload, Uncertain(0.1)))


class TestVariableAreaMeter:
    def reading(self, **more):
        return direct_flow.variable_area_flow(
            Uncertain(0.001, 0.00002),
            pressure_pa=Uncertain(4e5),
            temperature_k=Uncertain(293.15),
            scale_pressure_pa=1e5,
            scale_temperature_k=293.15,
            **more,
        )

    def test_shows_half_at_four_times_its_scale_pressure(self):
        assert self.reading().value == pytest.approx(0.002)

    def test_is_corrected_for_another_gas(self):
        estimate = self.reading(gases=(GASES["air"], GASES["argon"]))

        assert estimate.value == pytest.approx(0.002 * math.sqrt(28.9647 / 39.948))


class TestThermalMeter:
    def test_is_carried_to_the_reference_state_only(self):
        estimate = direct_flow.thermal_meter_flow(
            Uncertain(1.0, 0.02), states=(STATES["normal"], STATES["bar20"])
        )

        # Computed: (101 325 / 100 000)(293.15 / 273.15).
        assert estimate.value == pytest.approx(1.08744, abs=1e-5)

    def test_tells_nothing_of_another_gas(self):
        estimate = direct_flow.thermal_meter_flow(Uncertain(1.0, 0.02), gases=(GASES["air"], GASES["argon"]))

        assert codes(estimate) == {"other_gas_than_certified"}
