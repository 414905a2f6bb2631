"""What shutting a branch off outside hours saves."""

import math

import pytest

from findings.physics.branch_shut_off import shut_off_energy_kwh
from findings.physics.uncertainty import Uncertain

SURE = (Uncertain(0.01), Uncertain(360_000.0), Uncertain(0.75), Uncertain(4_000.0))


class TestShutOff:
    def test_saves_flow_times_hours_times_marginal_energy(self):
        # 0.01 m3/s at 0.1 kWh/m3 is 3.6 kW; three quarters of it for 4000 h.
        assert shut_off_energy_kwh(*SURE).value == pytest.approx(3.6 * 0.75 * 4000)

    def test_adds_relative_uncertainties_in_squares(self):
        unsure = [Uncertain(item.value, item.value * 0.1) for item in SURE]

        estimate = shut_off_energy_kwh(*unsure)

        assert estimate.u == pytest.approx(0.2 * estimate.value, rel=1e-4)

    def test_counts_the_air_that_fills_the_branch_again(self):
        filled = shut_off_energy_kwh(*SURE, refilled_m3=10.0, refills=250)

        assert shut_off_energy_kwh(*SURE).value - filled.value == pytest.approx(10 * 250 * 0.1 * 0.75)

    def test_may_cost_more_than_it_saves(self):
        estimate = shut_off_energy_kwh(*SURE[:3], Uncertain(10.0), refilled_m3=100.0, refills=10)

        assert estimate.value < 0
        assert [reason.code for reason in estimate.reasons] == ["shutting_costs"]

    @pytest.mark.parametrize(
        ("place", "value", "code"),
        [
            (0, 0.0, "no_leak"),
            (1, -1.0, "no_leak"),
            (2, 2.5, "factor_impossible"),
            (3, 9000.0, "hours_impossible"),
            (3, math.inf, "not_finite"),
        ],
    )
    def test_is_refused(self, place, value, code):
        inputs = list(SURE)
        inputs[place] = Uncertain(value)

        assert [reason.code for reason in shut_off_energy_kwh(*inputs).reasons] == [code]

    def test_is_refused_for_a_negative_refill(self):
        assert shut_off_energy_kwh(*SURE, refilled_m3=-1.0, refills=1).is_refused
