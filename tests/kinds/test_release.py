"""What a dangerous leak lets out, and the clean air that would thin it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.kinds.base import Kind, Medium
from findings.kinds.release import Amount, Release, ReleaseClass, release_of
from findings.physics.safety import oxygen_fraction

TEN_L_PER_MIN = Amount(1e-2 / 60, 0.8e-2 / 60, 1.2e-2 / 60)
ATMOSPHERE_PA = 101325.0


def released(medium: Medium | None, rate: Amount | None = TEN_L_PER_MIN, **known: object) -> Release:
    release = release_of(Kind.PRESSURE_LEAK, medium, rate_m3_per_s=rate, **known)
    assert release is not None
    return release


class TestWhoHasOne:
    @pytest.mark.parametrize(
        "medium",
        [
            Medium.NATURAL_GAS,
            Medium.PROPANE,
            Medium.HYDROGEN,
            Medium.OXYGEN,
            Medium.NITROGEN,
            Medium.ARGON,
            Medium.CARBON_DIOXIDE,
            Medium.OTHER,
            None,
        ],
    )
    def test_is_a_leak_of_a_dangerous_or_unknown_gas(self, medium):
        assert released(medium).notice.startswith("An estimate for the competent person, never a clearance")

    @pytest.mark.parametrize("medium", [Medium.COMPRESSED_AIR, Medium.STEAM])
    def test_is_not_air_or_steam(self, medium):
        assert release_of(Kind.PRESSURE_LEAK, medium, rate_m3_per_s=TEN_L_PER_MIN) is None

    @pytest.mark.parametrize("kind", [Kind.VACUUM_LEAK, Kind.ENCLOSURE_LEAK, Kind.ELECTRICAL_DISCHARGE])
    def test_is_no_other_kind(self, kind):
        assert release_of(kind, None, rate_m3_per_s=None) is None


class TestMass:
    def test_is_volume_times_density_with_its_interval(self):
        mass = released(Medium.PROPANE).mass_kg_per_s

        # Ideal gas: 44.0956 g/mol × 1e5 Pa / (8.314463 J/(mol K) × 293.15 K) = 1.80914 kg/m3, by hand.
        assert mass.value == pytest.approx(1e-2 / 60 * 1.80914, rel=1e-5)
        assert (mass.low / mass.value, mass.high / mass.value) == (pytest.approx(0.8), pytest.approx(1.2))

    def test_of_an_unknown_rate_is_unknown_and_said(self):
        release = released(Medium.NATURAL_GAS, None)

        assert (release.mass_kg_per_s, release.release_class) == (None, ReleaseClass.UNKNOWN)
        assert "release_rate_unknown" in {reason.code for reason in release.reasons}

    def test_of_an_unknown_gas_is_unknown_and_said(self):
        release = released(Medium.OTHER, gas_name="phlogiston")

        assert (release.mass_kg_per_s, release.dilutions) == (None, ())
        assert "gas_unknown" in {reason.code for reason in release.reasons}


class TestFuelGas:
    def test_is_thinned_to_a_quarter_and_a_half_of_the_lowest_published_limit(self):
        quarter, half = released(Medium.NATURAL_GAS).dilutions

        # Methane 4.4 % (IEC 60079-20-1, from memory), 1 atm, 20 °C: 0.044 × 0.0160425 × 101325 / (8.314463 ×
        # 293.15) = 0.029343 kg/m3; 1.0970e-4 kg/s / (0.25 × 0.029343) × 293.15/293 = 0.014962 m3/s, by hand.
        assert quarter.fresh_air_m3_per_s.value == pytest.approx(0.014962, rel=1e-4)
        assert half.fresh_air_m3_per_s.value == pytest.approx(0.014962 / 2, rel=1e-4)
        assert quarter.limit_fraction == pytest.approx(0.011)

    def test_named_beside_other_is_a_fuel_gas_too(self):
        release = released(Medium.OTHER, gas_name="hydrogen")

        assert next(dilution.key for dilution in release.dilutions) == "quarter_of_lower_limit"

    def test_says_that_natural_gas_is_computed_as_methane(self):
        codes = {reason.code for reason in released(Medium.NATURAL_GAS).reasons}

        assert "natural_gas_as_methane" in codes


class TestOxygen:
    @given(st.floats(1e-6, 1.0))
    def test_at_the_least_air_stands_at_the_enriched_level(self, flow):
        (dilution,) = released(Medium.OXYGEN, Amount(flow, flow, flow), atmosphere_pa=1e5).dilutions

        air = dilution.fresh_air_m3_per_s.value
        assert oxygen_fraction(air, flow, oxygen_released=True) == pytest.approx(0.235)


class TestSuffocatingGas:
    @given(st.floats(1e-6, 1.0), st.sampled_from([Medium.NITROGEN, Medium.ARGON, Medium.CARBON_DIOXIDE]))
    def test_at_the_least_air_stands_at_the_deficient_level(self, flow, medium):
        dilution = released(medium, Amount(flow, flow, flow), atmosphere_pa=1e5).dilutions[0]

        assert oxygen_fraction(dilution.fresh_air_m3_per_s.value, flow) == pytest.approx(0.195)

    def test_carbon_dioxide_harms_before_oxygen_lacks(self):
        lacks, harms = released(Medium.CARBON_DIOXIDE).dilutions

        assert harms.fresh_air_m3_per_s.value > 10 * lacks.fresh_air_m3_per_s.value

    def test_takes_more_room_where_the_air_is_thin(self):
        low, high = (released(Medium.ARGON, atmosphere_pa=pa).dilutions[0] for pa in (101325.0, 80000.0))

        ratio = high.fresh_air_m3_per_s.value / low.fresh_air_m3_per_s.value
        assert ratio == pytest.approx(101325.0 / 80000.0)


class TestClass:
    @pytest.mark.parametrize(
        ("l_per_min", "name"), [(1, "small"), (10, "moderate"), (100, "large"), (1000, "very_large")]
    )
    def test_follows_the_upper_end_of_the_clean_air(self, l_per_min, name):
        rate = Amount(l_per_min / 60_000, 0.0, 1.2 * l_per_min / 60_000)

        assert released(Medium.NATURAL_GAS, rate).release_class == name

    @given(st.floats(1e-7, 1.0), st.floats(1.0, 5.0))
    def test_never_falls_when_more_escapes(self, flow, factor):
        order = list(ReleaseClass)
        less, more = (
            released(Medium.PROPANE, Amount(one, one, one)).release_class for one in (flow, flow * factor)
        )

        assert order.index(less) <= order.index(more)
