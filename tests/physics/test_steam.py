"""Steam by Napier's formula."""

import math

import pytest

from findings.physics import steam
from findings.physics.leak_flow import Edge, Opening
from findings.physics.uncertainty import Uncertain

ATMOSPHERE_PA = 101325.0
# Computed with the open CoolProp library, homogeneous equilibrium, hole of 1 mm: bar gauge, g/s, deviation.
EQUILIBRIUM = [(1, 0.23896, -0.036), (3, 0.46666, -0.016), (5, 0.69119, -0.005), (10, 1.24607, 0.011)]
HOLE = Opening(Uncertain(0.001, 0.0001), Edge.UNKNOWN)


class TestNapier:
    def test_has_the_constant_in_si(self):
        assert pytest.approx(1.45678e-3, abs=5e-9) == steam.NAPIER_KG_PER_S_PER_M2_PA

    @pytest.mark.parametrize(("bar", "grams", "deviation"), EQUILIBRIUM)
    def test_departs_from_equilibrium_by_a_known_part(self, bar, grams, deviation):
        flow = steam.napier_mass_flow_kg_per_s(math.pi / 4e6, bar * 1e5 + ATMOSPHERE_PA)

        assert flow * 1000 / grams - 1 == pytest.approx(deviation, abs=6e-4)

    def test_gives_72_4_lb_per_h_through_an_eighth_of_an_inch(self):
        # Computed from 51.43 A p: 1/8 in, 100 psig, coefficient 1.
        flow = steam.napier_mass_flow_kg_per_s(math.pi / 4 * 0.003175**2, 114.696 * 6894.757)

        assert flow / 0.45359237 * 3600 == pytest.approx(72.4, abs=0.05)

    def test_is_corrected_at_high_pressure(self):
        # API 520 part 1: the correction sets in with a step of half a per cent.
        assert steam.high_pressure_factor(10.34e6) == pytest.approx(0.9957, abs=1e-4)


class TestSteamFlow:
    def test_is_an_upper_bound(self):
        estimate = steam.steam_flow(HOLE, Uncertain(8e5, 1e4), ATMOSPHERE_PA)

        assert (estimate.unit, estimate.reasons[0].code) == ("kg/s", "dry_steam_upper_bound")

    @pytest.mark.parametrize(
        ("opening", "upstream_pa", "code"),
        [
            (HOLE, 1.5e5, "steam_not_choked"),
            (HOLE, 3e7, "pressure_out_of_range"),
            (Opening(Uncertain(0.03)), 8e5, "diameter_out_of_range"),
            (HOLE, math.nan, "not_finite"),
        ],
    )
    def test_is_refused(self, opening, upstream_pa, code):
        estimate = steam.steam_flow(opening, Uncertain(upstream_pa), ATMOSPHERE_PA)

        assert code in {reason.code for reason in estimate.reasons}


class TestBookedVolume:
    def test_times_its_density_gives_the_mass_back(self):
        mass = steam.steam_flow(HOLE, Uncertain(8e5, 1e4), ATMOSPHERE_PA)

        booked = steam.booked_as_vapour(mass)

        assert booked.unit == "m3/s"
        for name in ("value", "u", "low", "high"):
            back = getattr(booked, name) * steam.BOOKED_DENSITY_KG_PER_M3
            assert back == pytest.approx(getattr(mass, name), rel=1e-15)

    def test_keeps_the_mass_flow_beside_it_and_says_what_it_is_for(self):
        booked = steam.booked_as_vapour(steam.steam_flow(HOLE, Uncertain(8e5, 1e4), ATMOSPHERE_PA))

        assert booked.inputs["mass_flow_kg_per_s"] > 0.0
        assert booked.reasons[-1].code == "steam_booked_as_vapour"

    def test_of_a_refusal_is_none(self):
        refused = steam.booked_as_vapour(steam.steam_flow(HOLE, Uncertain(1.5e5), ATMOSPHERE_PA))

        assert (refused.is_refused, refused.unit) == (True, "m3/s")

    def test_of_a_volume_is_no_sum(self):
        booked = steam.booked_as_vapour(steam.steam_flow(HOLE, Uncertain(8e5, 1e4), ATMOSPHERE_PA))

        with pytest.raises(ValueError, match="mass flow"):
            steam.booked_as_vapour(booked)
