"""What a lower header pressure saves."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.header_pressure import HeaderChange, PointOfUse, Supply, WorkBasis, lower_header
from findings.physics.quantities import convert
from findings.physics.uncertainty import Uncertain

SUPPLY = Supply(
    Uncertain(0.2, 0.01), Uncertain(75_000.0, 1_000.0), Uncertain(0.05, 0.01), Uncertain(0.75, 0.05)
)


def psig(pressure):
    return convert(pressure, "psi", "Pa")


def codes(estimate):
    return [reason.code for reason in estimate.reasons]


class TestLeaks:
    def test_at_a_lower_pressure_blow_as_published(self):
        # A utility's energy adviser note: a 1/8 in hole takes 26 cfm at 100 psig and 21.4 cfm at 80 psig.
        factor = HeaderChange(psig(100), psig(80), atmosphere_pa=psig(14.7)).leak_factor()

        assert 21.4 / factor == pytest.approx(25.92, abs=0.005)
        assert 21.4 / factor == pytest.approx(26.0, rel=0.01)

    def test_fall_with_the_absolute_pressure(self):
        # Derived: (6.3 + 1.01325) / (7.0 + 1.01325).
        assert HeaderChange(7.0e5, 6.3e5).leak_factor() == pytest.approx(0.91264, abs=5e-6)

    def test_that_are_no_longer_choked_fall_faster(self):
        change = HeaderChange(1.0e5, 0.5e5)

        assert not change.is_choked()
        assert change.leak_factor() < (0.5 + 1.01325) / (1.0 + 1.01325)


class TestWork:
    @pytest.mark.parametrize(
        ("change", "factor"),
        # From 7.0 to 6.3 bar gauge; the rule is the sourcebook's, the others derived from the adiabatic work.
        [
            (HeaderChange(7.0e5, 6.3e5, basis=WorkBasis.RULE), 0.94924),
            (HeaderChange(7.0e5, 6.3e5), 0.94222),
            (HeaderChange(7.0e5, 6.3e5, stages=2), 0.94928),
        ],
    )
    def test_falls_with_the_pressure(self, change, factor):
        assert change.work_factor() == pytest.approx(factor, abs=6e-6)

    def test_falls_by_about_one_per_cent_per_two_psi_at_a_hundred(self):
        # US DOE sourcebook: about 1 % per 2 psi near 100 psig; adiabatic in one stage it is 1.13 %.
        fall = 1 - HeaderChange(psig(100), psig(98), atmosphere_pa=psig(14.696)).work_factor()

        assert fall == pytest.approx(0.0113, abs=5e-5)

    @given(st.floats(3e5, 1.2e6), st.floats(0.5, 0.99))
    def test_lies_between_one_stage_and_no_loss_of_heat(self, before, part):
        one, many = (HeaderChange(before, before * part, stages=stages) for stages in (1, 4))

        assert one.work_factor() < many.work_factor() < 1.0
        assert one.work_factor() + math.sqrt(3) * one.work_factor_u() > many.work_factor()


class TestSaving:
    def test_multiplies_both_effects(self):
        # Derived: 80 of 500 m3/h leak and 60 blow open, 0.12 kWh/m3, 6000 h, 0.15 per kWh: 3994.98.
        supply = Supply(Uncertain(500 / 3600), Uncertain(60_000.0), Uncertain(140 / 3600), Uncertain(1.0))
        change = HeaderChange(7.0e5, 6.3e5, basis=WorkBasis.RULE)

        saving = lower_header(change, supply)

        assert saving.together.value / 1000 * 6000 * 0.15 == pytest.approx(3994.98, abs=0.005)
        assert 8640 * saving.leak_factor * saving.work_factor == pytest.approx(7484.97, abs=0.005)
        assert "full_load_value" in codes(saving.together)

    @given(part=st.floats(0.5, 0.99), loose=st.floats(0.0, 1.0), factor=st.floats(0.0, 1.0))
    def test_of_both_is_less_than_their_sum_and_more_than_each(self, part, loose, factor):
        supply = SUPPLY._replace(unregulated_flow=Uncertain(0.2 * loose), marginal_factor=Uncertain(factor))

        saving = lower_header(HeaderChange(7e5, 7e5 * part), supply)

        apart = (saving.less_flow.value, saving.less_work.value)
        assert max(apart) - 1e-6 <= saving.together.value <= sum(apart) + 1e-6
        assert saving.together.value <= 75_000

    def test_carries_the_uncertainty_of_what_goes_in(self):
        exact = Supply(*(Uncertain(item.value) for item in SUPPLY))

        sure, unsure = (lower_header(HeaderChange(7e5, 6e5), one).together for one in (exact, SUPPLY))

        assert 0.0 < sure.u < unsure.u

    def test_says_what_reserve_the_neediest_keeps(self):
        needs = [PointOfUse("press 4", 5.5e5, 0.2e5), PointOfUse("line 2", 4e5)]

        saving = lower_header(HeaderChange(7e5, 6e5), SUPPLY, needs)

        assert "keeps 0.30 bar" in saving.together.reasons[0].text

    def test_asks_for_the_least_pressure(self):
        assert codes(lower_header(HeaderChange(7e5, 6e5), SUPPLY).together) == ["needs_unknown"]


class TestRefusal:
    def test_names_each_point_that_would_starve(self):
        needs = [PointOfUse("press 4", 6.0e5, 0.2e5), PointOfUse("line 2", 4e5), PointOfUse("dryer", 6.1e5)]

        saving = lower_header(HeaderChange(7e5, 6e5), SUPPLY, needs)

        assert saving.together.is_refused
        assert [reason.text.split(" needs")[0] for reason in saving.together.reasons] == ["press 4", "dryer"]

    @pytest.mark.parametrize(
        ("change", "supply", "code"),
        [
            (HeaderChange(6e5, 7e5), SUPPLY, "not_a_lower_pressure"),
            (HeaderChange(6e5, 0.0), SUPPLY, "not_a_lower_pressure"),
            (HeaderChange(7e5, math.nan), SUPPLY, "not_finite"),
            (HeaderChange(7e5, 6e5, stages=0), SUPPLY, "stages_impossible"),
            (HeaderChange(2e7, 1e5, basis=WorkBasis.RULE), SUPPLY, "rule_out_of_range"),
            (
                HeaderChange(7e5, 6e5),
                SUPPLY._replace(unregulated_flow=Uncertain(0.3)),
                "more_leaks_than_flow",
            ),
            (HeaderChange(7e5, 6e5), SUPPLY._replace(flow=Uncertain(0.0)), "no_supply"),
            (HeaderChange(7e5, 6e5), SUPPLY._replace(marginal_factor=Uncertain(3.0)), "factor_impossible"),
        ],
    )
    def test_has_its_reason(self, change, supply, code):
        saving = lower_header(change, supply)

        assert [codes(one) for one in saving[:3]] == [[code]] * 3
