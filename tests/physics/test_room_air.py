"""Screening of a room's air: values, refusals in words, and what is always said."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.room_air import GAS_KEYS, concentration, dilution_air, oxygen
from findings.physics.uncertainty import Uncertain

ANY = st.floats(allow_nan=True, allow_infinity=True)
GAS = st.sampled_from(GAS_KEYS)


def diluted(gas="methane", release=1e-4, *, u=0.0, factor=0.25, temperature=293.0, atmosphere=101325.0):
    return dilution_air(
        gas, Uncertain(release, u), factor=factor, temperature_k=temperature, atmosphere_pa=atmosphere
    )


def filled(gas="methane", release=0.001, air=0.1, *, u=0.0, volume=100.0, seconds=1e6, mixing=1.0):
    return concentration(
        gas, Uncertain(release, u), Uncertain(air), volume_m3=volume, time_s=seconds, mixing=mixing
    )


def breathed(gas="nitrogen", release=0.01, air=0.1, *, u=0.0, **more):
    return oxygen(gas, Uncertain(release, u), Uncertain(air), **more)


def codes(estimate):
    return {reason.code for reason in estimate.reasons}


class TestDilutionAir:
    def test_of_methane(self):
        # Computed: 4.4 % of methane at 1 atm and 293 K are 29.36 g/m3; 0.1 g/s over a quarter of them.
        assert diluted().value == pytest.approx(1e-4 / (0.25 * 0.029361), rel=1e-3)

    def test_of_acetylene(self):
        # Computed: 2.3 % of 26.037 g/mol at 1 atm and 293 K are 24.91 g/m3.
        assert diluted("acetylene").value == pytest.approx(1e-4 / (0.25 * 0.024907), rel=1e-3)

    def test_is_as_unsure_as_the_release(self):
        assert diluted(u=2e-5).u / diluted().value == pytest.approx(0.2)

    @given(st.floats(min_value=240.0, max_value=330.0))
    def test_grows_with_the_temperature(self, temperature):
        assert diluted(temperature=temperature).value == pytest.approx(diluted().value * temperature / 293.0)

    def test_is_never_a_clearance(self):
        assert {"screening_only", "assumes_mixed_air"} <= codes(diluted())

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"gas": "nitrogen"}, "no_limit_held"),
            ({"release": 0.0}, "release_not_positive"),
            ({"factor": 0.6}, "factor_out_of_range"),
            ({"factor": 0.0}, "factor_out_of_range"),
            ({"temperature": 400.0}, "temperature_out_of_range"),
            ({"release": math.nan}, "not_finite"),
            ({"u": 1.0}, "uncertainty_too_large"),
        ],
    )
    def test_is_refused(self, changes, code):
        assert code in codes(diluted(**changes))


class TestConcentration:
    def test_in_the_end_is_release_over_air(self):
        assert filled().value == pytest.approx(0.01)

    def test_is_held_against_the_lowest_limit(self):
        # 1 % of methane against 4.4 % (IEC 60079-20-1, from memory).
        assert filled().inputs["part_of_limit"] == pytest.approx(0.01 / 0.044)

    def test_says_what_is_hazardous(self):
        assert (
            "hazardous_atmosphere" in codes(filled()),
            "hazardous_atmosphere" in codes(filled(release=1e-5)),
        ) == (
            True,
            False,
        )

    def test_is_hazardous_by_its_upper_end(self):
        # 0.4 % is below a tenth of 4.4 %, but 95 % of the estimate reaches 0.56 %.
        assert "hazardous_atmosphere" in codes(filled(release=4e-4, u=8e-5))

    def test_of_carbon_dioxide_says_that_it_is_toxic(self):
        assert "carbon_dioxide_is_toxic" in codes(filled("carbon_dioxide"))

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"release": 0.02}, "release_not_small"),
            ({"air": 0.0, "seconds": 1e5}, "release_not_small"),
            ({"air": -0.1}, "air_below_zero"),
            ({"mixing": 0.0}, "mixing_out_of_range"),
            ({"volume": 0.0}, "volume_not_positive"),
            ({"seconds": math.inf}, "not_finite"),
            ({"release": 2e4}, "flow_out_of_range"),
        ],
    )
    def test_is_refused(self, changes, code):
        assert code in codes(filled(**changes))

    @given(GAS, ANY, ANY, ANY, ANY, ANY)
    def test_of_any_number_is_a_fraction_or_a_refusal(self, gas, release, air, u, volume, seconds):
        estimate = filled(gas, release, air, u=u, volume=volume, seconds=seconds)

        assert estimate.is_refused or 0.0 <= estimate.value <= 0.1


class TestOxygen:
    def test_falls_beside_nitrogen(self):
        # Computed: 0.209 x 0.1 / 0.11.
        assert breathed().value == pytest.approx(0.19)

    @pytest.mark.parametrize(
        ("gas", "release", "state"),
        [("nitrogen", 0.01, "deficient"), ("nitrogen", 0.001, "normal"), ("oxygen", 0.01, "enriched")],
    )
    def test_has_a_state(self, gas, release, state):
        assert breathed(gas, release).inputs["oxygen_state"] == state

    def test_is_judged_by_its_worse_end(self):
        # Computed: 0.209 x 0.1 / 0.1068 is 19.57 %; with a fifth of u the release may take it below 19.5 %.
        assert breathed(release=0.0068, u=0.00136).inputs["oxygen_state"] == "deficient"

    def test_after_a_while_is_between_fresh_and_final(self):
        assert breathed().value < breathed(volume_m3=50.0, time_s=300.0).value < 0.209

    def test_without_fresh_air_runs_out(self):
        assert breathed(air=0.0).value == 0.0

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({"gas": "methane"}, "burns_first"),
            ({"volume_m3": 50.0}, "volume_or_time_missing"),
            ({"volume_m3": 50.0, "time_s": -1.0}, "volume_or_time_missing"),
            ({"release": -0.1}, "release_not_positive"),
            ({"air": math.nan}, "not_finite"),
        ],
    )
    def test_is_refused(self, changes, code):
        assert code in codes(breathed(**changes))

    @given(GAS, ANY, ANY, ANY, st.none() | ANY, st.none() | ANY)
    def test_of_any_number_is_a_fraction_or_a_refusal(self, gas, release, air, u, volume, seconds):
        estimate = breathed(gas, release, air, u=u, volume_m3=volume, time_s=seconds)

        assert estimate.is_refused or 0.0 <= estimate.value <= 1.0
