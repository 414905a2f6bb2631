"""What a pressure leak loses, by the best evidence there is."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.kinds.base import Medium
from findings.kinds.pressure_leak import PressureLeakEvidence, assess
from findings.physics.direct_flow import bag_flow
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.leak_flow import Edge
from findings.physics.uncertainty import Uncertain

HOLE = {"diameter_m": 0.001, "pressure_gauge_pa": 700000.0, "edge": Edge.SHARP}
NUMBER = st.none() | st.floats()


def assessed(medium=Medium.COMPRESSED_AIR, **fields):
    return assess(PressureLeakEvidence(medium=medium, **fields))


def codes(estimate):
    return {reason.code for reason in estimate.reasons}


class TestOrderOfMethods:
    def test_puts_a_measured_flow_first(self):
        estimate = assessed(
            **HOLE, stated_flow_m3_per_s=0.002, measured_flow_m3_per_s=0.001, measured_method="bag"
        )

        assert (estimate.value, estimate.status, estimate.method) == (0.001, Status.MEASURED, "bag")

    def test_puts_a_stated_flow_before_the_hole(self):
        estimate = assessed(**HOLE, stated_flow_m3_per_s=0.002, stated_flow_u_m3_per_s=0.0002)

        assert (estimate.value, estimate.u, estimate.status) == (0.002, pytest.approx(0.0002), Status.STATED)

    def test_takes_the_hole_last(self):
        # Computed: 75.006 l/min at coefficient 1, 7 bar gauge, 1 mm.
        assert assessed(**HOLE).value * 60000 == pytest.approx(0.61 * 75.006, abs=6e-4)

    def test_takes_a_finished_measurement(self):
        bag = bag_flow(
            Uncertain(0.01), [10.0] * 3, 0.2, pressure_pa=Uncertain(1e5), temperature_k=Uncertain(293.15)
        )

        assert assessed(**HOLE, measured=bag).method == "bag"

    def test_says_why_a_better_method_failed(self):
        bag = bag_flow(
            Uncertain(0.01), [1.0], 0.2, pressure_pa=Uncertain(1e5), temperature_k=Uncertain(293.15)
        )

        estimate = assessed(**HOLE, measured=bag)

        assert (estimate.method, "bag_time_too_short" in codes(estimate)) == ("orifice", True)


class TestRefusal:
    @pytest.mark.parametrize(
        ("fields", "missing"),
        [
            ({}, {"diameter_missing", "pressure_missing"}),
            ({"diameter_m": 0.001}, {"pressure_missing"}),
            ({"pressure_gauge_pa": 7e5}, {"diameter_missing"}),
            ({"diameter_m": math.nan, "pressure_gauge_pa": 7e5}, {"not_finite"}),
        ],
    )
    def test_names_what_is_missing(self, fields, missing):
        estimate = assessed(**fields)

        assert (estimate.value, missing <= codes(estimate)) == (None, True)

    @pytest.mark.parametrize("name", [None, "phlogiston"])
    def test_of_an_unknown_gas(self, name):
        assert "gas_unknown" in codes(assessed(Medium.OTHER, gas_name=name, **HOLE))

    def test_of_vacuum(self):
        assert codes(assessed(Medium.VACUUM, **HOLE)) == {"medium_not_of_this_kind"}

    @pytest.mark.parametrize(
        ("fields", "code"),
        [
            ({"measured_flow_m3_per_s": 0.1, "measured_method": "guess"}, "method_unknown"),
            ({"measured_flow_m3_per_s": 0.1, "measured_state": "moon"}, "reference_state_unknown"),
            ({"stated_flow_m3_per_s": 0.1, "stated_state": "moon"}, "reference_state_unknown"),
        ],
    )
    def test_of_an_unknown_word(self, fields, code):
        assert code in codes(assessed(**fields))

    @given(NUMBER, NUMBER, NUMBER, NUMBER, st.sampled_from(list(Medium)))
    def test_or_a_value_follows_from_any_numbers(self, diameter, pressure, measured, temperature, medium):
        estimate = assessed(
            medium,
            diameter_m=diameter,
            pressure_gauge_pa=pressure,
            measured_flow_m3_per_s=measured,
            temperature_k=temperature,
        )

        assert bool(estimate.reasons) if estimate.is_refused else estimate.value >= 0.0


def from_level(*codes_said: str, unit: str = "m3/s") -> Estimate:
    """Return what a level of 60 dB tells: 1.6 l/min, a tenth of it to ten times as much."""
    litre_per_minute = 1.0 / 60_000
    return Estimate(
        value=1.6 * litre_per_minute,
        u=2.0 * litre_per_minute,
        low=0.15 * litre_per_minute,
        high=17.0 * litre_per_minute,
        unit=unit,
        method="level",
        method_version="1",
        status=Status.INDICATIVE if codes_said else Status.ESTIMATED,
        reasons=tuple(Reason(code, "said of the level") for code in codes_said),
        inputs={"mean_flow_m3_per_s": 2.0 * litre_per_minute},
    )


class TestTheLevel:
    def test_is_asked_only_where_nothing_better_is_known(self):
        level = from_level()

        assert assessed(**HOLE, level=level).method == "orifice"
        assert assessed(stated_flow_m3_per_s=0.01, level=level).status is Status.STATED
        assert assessed(level=level).method == "level"

    def test_of_a_calibrated_instrument_gives_the_mean_that_sums_need(self):
        estimate = assessed(level=from_level())

        assert (estimate.status, estimate.value) == (Status.ESTIMATED, pytest.approx(2.0 / 60_000))
        assert "mean_of_level" in codes(estimate)

    @pytest.mark.parametrize("code", ["not_calibrated", "few_calibration_leaks"])
    def test_of_an_instrument_that_learnt_too_little_only_indicates(self, code):
        estimate = assessed(level=from_level(code))

        assert (estimate.status, estimate.value) == (Status.INDICATIVE, pytest.approx(1.6 / 60_000))
        assert code in codes(estimate)

    def test_that_tells_nothing_adds_its_reasons(self):
        level = refused(
            unit="m3/s", method="level", version="1", reasons=(Reason("distance", "No distance."),), inputs={}
        )

        assert codes(assessed(level=level)) >= {"diameter_missing", "distance"}

    def test_never_stands_for_steam_which_is_lost_by_mass(self):
        assert assessed(Medium.STEAM, level=from_level()).is_refused


class TestOtherMedia:
    def test_natural_gas_is_computed_as_methane_and_says_so(self):
        estimate = assessed(Medium.NATURAL_GAS, **(HOLE | {"pressure_gauge_pa": 5000.0}))

        assert (estimate.inputs["gas"], "natural_gas_as_methane" in codes(estimate)) == ("methane", True)

    def test_a_named_gas_is_looked_up(self):
        assert assessed(Medium.OTHER, gas_name="Helium", **HOLE).inputs["gas"] == "helium"

    def test_steam_is_lost_by_mass(self):
        estimate = assessed(Medium.STEAM, **HOLE)

        assert (estimate.unit, "dry_steam_upper_bound" in codes(estimate)) == ("kg/s", True)

    def test_steam_is_not_stated_by_volume(self):
        estimate = assessed(Medium.STEAM, stated_flow_m3_per_s=0.1)

        assert "steam_needs_mass_flow" in codes(estimate)


class TestAssumptions:
    def test_are_said(self):
        assumed = {"diameter_uncertainty_assumed", "pressure_uncertainty_assumed", "temperature_assumed"}

        assert assumed <= codes(assessed(**HOLE))

    def test_are_not_said_when_everything_is_known(self):
        estimate = assessed(
            **HOLE, diameter_u_m=1e-5, pressure_u_pa=5e3, temperature_k=300.0, temperature_u_k=2.0
        )

        assert codes(estimate) == {"sharp_edge_convention"}
