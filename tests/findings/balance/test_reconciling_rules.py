"""Measured against found: what the difference is, whether it means anything, and what it costs."""

from datetime import timedelta
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.balance.rules import SinceTest, reconcile, shared_part, spread_of
from findings.physics.uncertainty import Uncertain
from tests.findings.balance.now import AT, BAR, known, leak, measured, system

FLOWS = st.lists(st.floats(1e-6, 1e-2), min_size=1, max_size=20)


def told(*leaks, at=AT, since=SinceTest(), **values):  # noqa: B008 - an empty one, never changed
    return reconcile(system(*leaks, **values), at, since)


def codes(reasons):
    return [reason.code for reason in reasons]


class TestTheBalance:
    def test_is_measured_less_found(self):
        found = told(leak(0.004), leak(0.002), measured=measured(0.010))

        assert found.balance.explained.value == pytest.approx(0.006)
        assert found.balance.unexplained.value == pytest.approx(0.004)
        assert found.balance.share.value == pytest.approx(0.4)

    def test_adds_what_findings_share_and_squares_what_is_their_own(self):
        shared = told(
            leak(0.004, 0.0004, shared=0.1), leak(0.002, 0.0002, shared=0.1), measured=measured(0.01)
        )
        own = told(leak(0.004, 0.0004), leak(0.002, 0.0002), measured=measured(0.01))

        assert shared.balance.explained.u == pytest.approx(0.0006)
        assert own.balance.explained.u == pytest.approx(hypot(0.0004, 0.0002))

    @given(flows=FLOWS, relative=st.floats(0.01, 0.5))
    def test_is_never_surer_for_what_findings_share(self, flows, relative):
        shared = [leak(flow, relative * flow, shared=relative) for flow in flows]
        own = [leak(flow, relative * flow) for flow in flows]
        total = measured(1.0, 0.01)

        wide, narrow = (told(*leaks, measured=total).balance.explained.u for leaks in (shared, own))

        assert wide >= narrow * (1 - 1e-9)

    def test_is_significant_only_beyond_chance(self):
        clear = told(leak(0.004, 0.0004), measured=measured(0.010, 0.0005))
        chance = told(leak(0.004, 0.0030), measured=measured(0.010, 0.0030))

        assert (clear.is_significant, clear.balance.verdict) == (True, "unexplained")
        assert (chance.is_significant, chance.balance.verdict) == (False, "accounted_for")

    def test_without_a_test_tells_only_what_was_found(self):
        found = told(leak(0.004))

        assert found.balance.explained.value == 0.004
        assert (found.measured.value, found.balance.unexplained.value) == (None, None)
        assert codes(found.reasons) == ["no_leak_test"]

    def test_says_how_many_findings_have_no_rate(self):
        found = told(leak(0.004), without_flow=3, measured=measured(0.01, 0.001))

        assert "findings_without_flow" in codes(found.balance.unexplained.reasons)

    def test_brings_a_test_at_another_pressure_to_the_header(self):
        found = told(measured=measured(0.010, gauge=4 * BAR))

        # Choked flow goes with the absolute pressure: 7 bar over 5.
        assert found.measured.value == pytest.approx(0.014)
        assert "scaled_to_header" in codes(found.measured.reasons)

    def test_leaves_a_test_at_the_headers_pressure_alone(self):
        assert codes(told(measured=measured(0.010)).measured.reasons) == []


class TestWhatHappenedSince:
    def test_is_said_of_an_old_test(self):
        old = told(measured=measured(0.01, taken_at=AT - timedelta(days=91)))
        fresh = told(measured=measured(0.01, taken_at=AT - timedelta(days=89)))

        assert codes(old.reasons) == ["test_is_old"]
        assert codes(fresh.reasons) == []

    def test_is_counted(self):
        found = told(measured=measured(0.01), since=SinceTest(repaired=2, found=5))

        assert codes(found.reasons) == ["repaired_since_test", "found_since_test"]
        assert found.reasons[0].text.startswith("2 finding(s)")


class TestTheCost:
    def test_is_of_the_measured_total_and_of_its_unexplained_part(self):
        found = told(leak(0.0075), measured=measured(0.010))

        # 0.010 m3/s at 360 kJ/m3 are 3.6 kW: 0.72 an hour; three quarters of it answer.
        assert float(found.total_cost.full_load.per_hour) == pytest.approx(0.72)
        assert float(found.total_cost.expected.per_hour) == pytest.approx(0.54)
        assert float(found.unexplained_cost.full_load.per_hour) == pytest.approx(0.18)

    def test_is_nothing_told_where_more_was_found_than_measured(self):
        found = told(leak(0.02), measured=measured(0.010))

        assert found.unexplained_cost.full_load.per_hour is None
        assert codes(found.unexplained_cost.full_load.reasons) == ["nothing_unexplained"]

    def test_needs_a_price(self):
        without = known(electricity_price_per_kwh=None)
        found = told(measured=measured(0.010), known=without)

        assert codes(found.total_cost.full_load.reasons) == ["electricity_price_missing"]


class TestWhatFindingsShare:
    FLOW = Uncertain(0.001, 0.0003)
    HOLE = {
        "discharge_coefficient": 0.8,
        "discharge_coefficient_u": 0.12,
        "upstream_absolute_pa": 800_000.0,
        "upstream_u_pa": 40_000.0,
        "temperature_k": 293.15,
        "temperature_u_k": 8.0,
    }

    def test_of_a_hole_is_its_convention_not_its_size(self):
        assert shared_part("orifice", self.HOLE, self.FLOW) == pytest.approx(0.15)

    def test_of_a_hole_is_the_systems_pressure_and_temperature_too(self):
        inputs = {**self.HOLE, "pressure_from": "system", "temperature_from": "system"}

        expected = (0.15**2 + 0.05**2 + (8.0 / 293.15 / 2) ** 2) ** 0.5
        assert shared_part("orifice", inputs, self.FLOW) == pytest.approx(expected)

    def test_of_what_was_measured_by_itself_is_nothing(self):
        assert shared_part("bag", {}, self.FLOW) == 0.0

    def test_of_a_stated_flow_is_the_whole(self):
        assert shared_part("stated", {}, self.FLOW) == pytest.approx(0.3)

    @given(u=st.floats(0.0, 1e-3))
    def test_never_exceeds_the_whole(self, u):
        flow = Uncertain(0.001, u)

        assert shared_part("orifice", self.HOLE, flow) <= flow.relative

    def test_of_no_flow_is_nothing(self):
        assert shared_part("stated", {}, Uncertain(0.0, 0.1)) == 0.0


def test_a_spread_is_read_from_the_upper_half_of_an_interval():
    assert spread_of(1.0, 0.0, 2.96) == pytest.approx(1.0, rel=1e-3)
    assert spread_of(1.0, 0.02, None) == pytest.approx(0.5, rel=1e-3)
    assert spread_of(1.0, None, None) == 0.0
